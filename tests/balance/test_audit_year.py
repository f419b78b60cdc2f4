"""Lines and indicators of the year, followed to the meters, allowances and shares."""

from __future__ import annotations

from typing import Any

import pytest

from district.balance.annual import LINES
from district.balance.audit_year import FORMULAS


def of(audited: Any, cell: str, figure: str) -> Any:
    rows = audited.audit
    rows = rows[(rows["cell_id"] == cell) & (rows["figure"] == figure)]
    return rows.set_index("input")


def test_real_losses_say_what_they_are_made_of(audited: Any) -> None:
    rows = of(audited, "district", "real losses")
    assert rows["formula"].iloc[0] == (
        "system input volume - billed water exported - billed metered consumption - "
        "billed unmetered consumption - "
        "unbilled metered consumption - unbilled unmetered consumption - unauthorised use - "
        "customer meter under-registration - data handling error"
    )
    made = sum(
        row["value"] * (1 if row["operation"] == "+" else -1)
        for row in rows[rows["operation"].isin(["+", "-"])].to_dict("records")
    )
    assert made == pytest.approx(rows["value"].iloc[0])
    meter = rows.loc["zone meter M1"]
    assert meter["lowers"] == pytest.approx(0.02 * 130 * 365)
    assert meter["variance_share"] == pytest.approx(
        meter["lowers"] ** 2 / (rows["lowers"].fillna(0) ** 2).sum()
    )


def test_indicators_divide_the_same_effects(audited: Any) -> None:
    losses = of(audited, "North", "real losses").loc["zone meter M1", "raises"]
    by_tap = of(audited, "North", "real losses by connection").loc["zone meter M1", "raises"]
    assert by_tap == pytest.approx(losses * 1000 / 365 / 4)
    index = of(audited, "North", "leakage index of the year")
    least = index.loc["unavoidable losses of the year", "value"]
    assert index.loc["zone meter M1", "raises"] == pytest.approx(losses / least)
    assert "average zone pressure" in index.index


def test_non_revenue_share_by_hand(audited: Any) -> None:
    rows = of(audited, "district", "non-revenue share")
    billed = (39 + 131 * 0.35) * 365
    assert rows["value"].iloc[0] == pytest.approx(1 - billed / (130 * 365))
    assert rows.loc["zone meter M1", "raises"] == pytest.approx(billed / (130 * 365) * 0.02)


def test_every_line_nobody_sums_has_its_formula() -> None:
    leaves = {key for key, _, _, rests in LINES if rests not in ("sum", "difference")}
    assert leaves <= set(FORMULAS)
