"""The whole balance of the hand-typed district."""

from __future__ import annotations

import copy
from dataclasses import fields
from typing import Any

import pandas as pd
import pytest

from district.balance import district_balance
from district.errors import StageError
from district.schema import check
from district.schema.outputs import ANNUAL, DAYS, INDICATORS, NIGHTS, ZONES
from district.schema.pressures import ZONE_EXPONENTS, ZONE_PRESSURE
from district.settings import Background, Settings


@pytest.fixture
def found(make_network: Any, make_reduced: Any, settings: Any, no_works: Any) -> Any:
    return district_balance(make_network(), make_reduced(), settings=settings, works=no_works)


TABLES = [NIGHTS, DAYS, ZONES, ANNUAL, INDICATORS, ZONE_PRESSURE, ZONE_EXPONENTS]


@pytest.mark.parametrize("table", TABLES, ids=lambda t: t.name)
def test_tables_are_as_declared(found: Any, table: Any) -> None:
    frame = getattr(
        found, {"zone_summary": "zones", "annual_balance": "annual"}.get(table.name, table.name)
    )
    assert tuple(frame.columns) == table.names()
    _, findings = check(table, frame, source=table.name)
    assert findings == ()


def test_basis_names_period_meters_and_assumptions(found: Any) -> None:
    basis = found.basis
    assert (str(basis.first), str(basis.last)) == ("2026-03-01", "2026-03-20")
    assert basis.meters == ("M1", "M2", "B1", "C1", "C2")
    said = "\n".join(basis.assumptions)
    assert "Night use of 160 household properties" in said
    assert "No pressure logger in North and South: 40 m ±10 m is assumed." in said
    assert "Annual balance: 20 days with a complete inflow are scaled to 365." in said
    limited = "\n".join(basis.limits)
    assert "S is not balanced: it holds a source" in limited
    assert "Connections with no allowance for laundry: 1;" in limited


def test_a_nightly_balance_leaves_out_but_changes_nothing(
    make_network: Any, make_reduced: Any, settings: Any, no_works: Any, found: Any
) -> None:
    nightly = district_balance(
        make_network(), make_reduced(), settings=settings, works=no_works, nightly=True
    )
    left_out = set()
    for field in fields(found):
        whole, own = getattr(found, field.name), getattr(nightly, field.name)
        if isinstance(whole, pd.DataFrame) and len(own) < len(whole):
            assert own.empty
            assert list(own.columns) == list(whole.columns)
            left_out.add(field.name)
        elif isinstance(whole, pd.DataFrame):
            pd.testing.assert_frame_equal(own, whole)
        else:
            assert own == whole
    assert left_out <= {
        "seven_nights",
        "night_periods",
        "night_users",
        "loss_gaps",
        "gap_causes",
        "economics",
        "zone_pressure",
    }
    assert {"seven_nights", "night_periods"} <= left_out


def test_inputs_are_not_written_to(
    make_network: Any, make_reduced: Any, settings: Any, no_works: Any
) -> None:
    network, reduced = make_network(), make_reduced()
    works = no_works.reindex(range(1)).assign(
        start=pd.Timestamp("2026-03-05T22:00Z"),
        end=pd.Timestamp("2026-03-06T03:00Z"),
        kind="flushing",
        place_id="North",
    )
    before = copy.deepcopy((network, reduced, works))
    district_balance(network, reduced, settings=settings, works=works)
    pd.testing.assert_frame_equal(works, before[2])
    for was, now in zip(before[:2], (network, reduced), strict=True):
        for part in fields(was):
            left, right = getattr(was, part.name), getattr(now, part.name)
            if isinstance(left, pd.DataFrame):
                pd.testing.assert_frame_equal(pd.DataFrame(left), pd.DataFrame(right))


def test_no_readings_at_all_is_a_stage_error(
    make_network: Any,
    make_reduced: Any,
    settings: Any,
    no_works: Any,
    night_table: Any,
    day_table: Any,
    nights: Any,
) -> None:
    reduced = make_reduced(
        night_flows=night_table(nights, {"X": 1.0}), daily_volumes=day_table(nights, {"X": 1.0})
    )
    with pytest.raises(StageError, match=r"No zone meter \(M1 and M2\) has a usable night"):
        district_balance(make_network(), reduced, settings=settings, works=no_works)


def test_nights_without_days_and_days_without_nights(
    make_network: Any, make_reduced: Any, settings: Any, no_works: Any
) -> None:
    plain = make_reduced()
    only_nights = district_balance(
        make_network(),
        make_reduced(daily_volumes=plain.daily_volumes.iloc[:0]),
        settings=settings,
        works=no_works,
    )
    assert only_nights.annual.empty
    assert only_nights.indicators.empty
    assert only_nights.days.empty
    assert only_nights.zones["leakage_l_s"].notna().all()
    only_days = district_balance(
        make_network(),
        make_reduced(night_flows=plain.night_flows.iloc[:0]),
        settings=settings,
        works=no_works,
    )
    assert only_days.nights.empty
    assert only_days.days["losses_m3"].isna().all()
    assert only_days.zones["leakage_l_s"].isna().all()
    volume = only_days.annual.set_index(["cell_id", "component"])["volume_m3"]
    assert volume["district", "system input volume"] == pytest.approx(130 * 365)


def test_a_background_beyond_the_leakage_is_told(
    make_network: Any, make_reduced: Any, no_works: Any
) -> None:
    heavy = Settings(background=Background(mains_l_km_h=4000.0))
    whole = district_balance(make_network(), make_reduced(), settings=heavy, works=no_works)
    assert (whole.zones["excess_l_s"] == 0).all()
    assert (whole.zones["service_bursts_count"] == 0).all()
    (said,) = (s for s in whole.basis.limits if "condition_factor" in s)
    assert said.startswith("Night leakage of North and South is below the background expected")


def test_a_year_of_losses_below_nothing_is_told_and_earns_no_band(
    make_network: Any, make_reduced: Any, no_works: Any, day_table: Any, nights: Any
) -> None:
    daily = day_table(nights, {"M1": 60.0, "M2": 50.0, "B1": 25.0, "C1": 4.0, "C2": 10.0})
    found = district_balance(
        make_network(), make_reduced(daily_volumes=daily), settings=Settings(), works=no_works
    )
    year = found.indicators.set_index("cell_id")
    assert list(year.index[year["real_losses_m3_high"] < 0]) == ["district", "North"]
    assert year["target_band"].to_dict() == {"district": "", "North": "", "South": "D"}
    assert (
        "Annual balance: real losses of North and the district are below zero beyond their limits: "
        "a zone meter reads low, or an allowance or a meter of users is not as recorded."
    ) in found.basis.limits
