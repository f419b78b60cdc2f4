"""A zone's figures over its recent nights, by hand: a meter of 2 %, allowances of 40 %."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from district.balance import district_balance
from district.settings import Settings


def rows_of(audited: Any, cell: str, figure: str) -> Any:
    rows = audited.audit
    rows = rows[(rows["cell_id"] == cell) & (rows["figure"] == figure)]
    return rows.set_index("input")


def test_night_leakage_of_a_zone(audited: Any) -> None:
    rows = rows_of(audited, "North", "night leakage")
    assert rows.loc["zone meter M1", "lowers"] == pytest.approx(0.02 * 1.0)
    assert rows.loc["zone meter M2", "operation"] == "-"
    assert rows.loc["zone meter M2", "raises"] == pytest.approx(0.02 * 0.4)
    use = Settings().allowances["household"].l_property_h * 100 / 3600
    home = rows.loc["night use of 100 household properties"]
    assert home["value"] == pytest.approx(use)
    assert home["lowers"] == pytest.approx(0.4 * use)
    shares = rows["variance_share"].dropna()
    assert shares["zone meter M1"] == pytest.approx(0.02**2 / (rows["lowers"].fillna(0) ** 2).sum())


def test_daily_leakage_passes_the_effects_on(audited: Any) -> None:
    night = rows_of(audited, "North", "night leakage")
    day = rows_of(audited, "North", "daily leakage")
    factor = day.loc["night-to-day factor", "value"]
    assert day.loc["zone meter M1", "raises"] == pytest.approx(
        night.loc["zone meter M1", "raises"] * factor * 3.6
    )
    [exponent] = [i for i in day.index if i.startswith("night-to-day factor: exponent")]
    leak = night["value"].iloc[0]
    high = day.loc[exponent, "value_high"]
    assert day.loc[exponent, "raises"] == pytest.approx(leak * (high - factor) * 3.6)


def test_without_a_logger_the_factor_is_an_assumption(audited: Any) -> None:
    row = rows_of(audited, "South", "daily leakage").loc["night-to-day factor: no hourly pressure"]
    assert row["kind"] == "assumed"
    assert (row["value_low"], row["value"], row["value_high"]) == (18.0, 24.0, 26.0)


def test_use_shown_as_at_least_zero_keeps_its_inputs_whole(
    make_network: Any, make_reduced: Any, no_works: Any
) -> None:
    home = Settings().allowances["household"].model_copy(update={"spread_share": 1.5})
    wide = Settings(allowances={"household": home})
    found = district_balance(
        make_network(), make_reduced(), settings=wide, works=no_works, audited=True
    )
    rows = rows_of(found, "South", "legitimate night use")
    assert rows["value_low"].iloc[0] == 0.0
    raised = np.sqrt((rows["raises"].fillna(0) ** 2).sum())
    lowered = np.sqrt((rows["lowers"].fillna(0) ** 2).sum())
    assert lowered == pytest.approx(raised)
    assert lowered > rows["value"].iloc[0]
