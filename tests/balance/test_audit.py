"""The audit of the hand-typed district: it is the balance, input by input."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.balance import district_balance, improvements
from district.balance.effects import REST
from district.schema import check, empty
from district.schema.audited import AUDIT, IMPROVEMENTS

OF_ZONES = {
    "minimum night flow": "minimum_night_flow_l_s",
    "legitimate night use": "legitimate_use_l_s",
    "night leakage": "leakage_l_s",
    "background leakage": "background_l_s",
    "excess night flow": "excess_l_s",
    "night-to-day factor": "night_day_factor_h_d",
    "daily leakage": "leakage_m3_d",
    "leakage by connection": "leakage_l_connection_d",
    "leakage by length of mains": "leakage_m3_km_d",
    "leakage index, recent nights": "leakage_index",
    "net inflow": "inflow_m3_d",
}
OF_INDICATORS = {
    "real losses": "real_losses_m3",
    "leakage index of the year": "leakage_index",
    "real losses by connection": "leakage_l_connection_d",
    "real losses by length of mains": "leakage_m3_km_d",
    "non-revenue share": "non_revenue_share",
}
LIMITS = ("", "_low", "_high")


def totals(audit: pd.DataFrame) -> pd.DataFrame:
    return audit[audit["rank"] == 0].set_index(["figure", "cell_id"])


def test_tables_are_as_declared(audited: Any) -> None:
    for table, frame in ((AUDIT, audited.audit), (IMPROVEMENTS, audited.improvements)):
        assert tuple(frame.columns) == table.names()
        assert len(frame)
        _, findings = check(table, frame, source=table.name)
        assert findings == ()


def test_every_figure_is_the_one_the_balance_shows(audited: Any) -> None:
    shown = totals(audited.audit)
    compared = 0
    for names, table in ((OF_ZONES, audited.zones), (OF_INDICATORS, audited.indicators)):
        for figure, column in names.items():
            for row in table[table[column].notna()].to_dict("records"):
                told = shown.loc[(figure, row["cell_id"])]
                for suffix in LIMITS:
                    assert told[f"value{suffix}"] == row[column + suffix]
                compared += 1
    for row in audited.annual.to_dict("records"):
        told = shown.loc[(row["component"], row["cell_id"])]
        for suffix in LIMITS:
            assert told[f"value{suffix}"] == row[f"volume_m3{suffix}"]
        compared += 1
    # Two zones, no lowest hour typed; the year of the district and both zones.
    assert compared == 2 * (len(OF_ZONES) - 1) + 3 * len(OF_INDICATORS) + len(audited.annual)


def test_contributions_recombine_to_the_limits_and_shares_to_one(audited: Any) -> None:
    for (_, name), rows in audited.audit.groupby(["cell_id", "figure"], sort=False):
        total = rows.iloc[0]
        below, above = (np.sqrt((rows[c].fillna(0) ** 2).sum()) for c in ("lowers", "raises"))
        low = total["value"] - below
        if name in ("legitimate night use", "excess night flow"):
            low = max(low, 0.0)
        assert low == pytest.approx(total["value_low"], rel=1e-9, abs=1e-9)
        assert total["value"] + above == pytest.approx(total["value_high"], rel=1e-9, abs=1e-9)
        if below + above > 0:
            assert rows["variance_share"].sum() == pytest.approx(1.0)
    assert REST not in set(audited.audit["input"])
    assert "what is not told apart" not in set(audited.audit["input"])


def test_all_but_what_the_nights_alone_tell_is_arithmetic(audited: Any) -> None:
    rows = audited.audit
    told = rows.groupby("figure")["operation"].agg(lambda o: bool(o.isin(["+", "-"]).any()))
    assert set(told.index[~told]) == {"night-to-day factor"}


def test_the_district_comes_first_then_the_zones_worst_first(audited: Any) -> None:
    order = list(dict.fromkeys(audited.audit["cell_id"]))
    assert order == ["district", *audited.zones["cell_id"]]


def test_the_datum_to_improve_first_by_hand(audited: Any) -> None:
    """Were the first input known exactly, the others' squares would remain."""
    audit, best = audited.audit, audited.improvements
    assert list(best.groupby("cell_id", sort=False)["rank"].first()) == [1.0, 1.0, 1.0]
    south = audit[(audit["cell_id"] == "South") & (audit["figure"] == "daily leakage")]
    causes = south[south["variance_share"].notna()].sort_values("variance_share", ascending=False)
    row = best[best["cell_id"] == "South"].iloc[0]
    assert row["input"] == causes["input"].iloc[0]
    left = np.sqrt((causes["raises"].iloc[1:] ** 2).sum())
    assert row["leakage_m3_d_high"] - row["leakage_m3_d"] == pytest.approx(left)
    width = south["value_high"].iloc[0] - south["value_low"].iloc[0]
    remains = row["leakage_m3_d_high"] - row["leakage_m3_d_low"]
    assert row["narrower_share"] == pytest.approx(1 - remains / width)
    district = best[best["cell_id"] == "district"].iloc[0]
    assert district["leakage_m3_d"] == pytest.approx(
        audited.indicators["real_losses_m3"].iloc[0] / 365
    )


def test_without_audit_nothing_is_made_and_nothing_else_changes(
    make_network: Any, make_reduced: Any, settings: Any, no_works: Any
) -> None:
    plain, audited = (
        district_balance(
            make_network(), make_reduced(), settings=settings, works=no_works, audited=wanted
        )
        for wanted in (False, True)
    )
    for name in ("nights", "days", "zones", "annual", "indicators"):
        pd.testing.assert_frame_equal(getattr(plain, name), getattr(audited, name))
    assert len(audited.audit)
    assert plain.audit.empty
    assert plain.improvements.empty
    assert improvements(empty(AUDIT)).empty


def test_nights_without_days_and_days_without_nights(
    make_network: Any, make_reduced: Any, settings: Any, no_works: Any
) -> None:
    plain = make_reduced()
    for reduced, figures in (
        (make_reduced(daily_volumes=plain.daily_volumes.iloc[:0]), {"daily leakage"}),
        (make_reduced(night_flows=plain.night_flows.iloc[:0]), {"real losses", "net inflow"}),
    ):
        found = district_balance(
            make_network(), reduced, settings=settings, works=no_works, audited=True
        )
        assert figures <= set(found.audit["figure"])
        shares = found.audit.groupby(["cell_id", "figure"])["variance_share"].sum()
        assert ((shares - 1).abs() < 1e-9).sum() + (shares == 0).sum() == len(shares)
