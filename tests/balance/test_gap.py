"""Top-down beside bottom-up."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.balance import district_balance
from district.balance.gap import ranked, statement
from district.estimates import estimate
from district.schema import check
from district.schema.annual_tables import GAP_CAUSES, LOSS_GAPS
from district.settings import Settings


@pytest.fixture
def found(make_network: Any, make_reduced: Any, no_works: Any) -> Any:
    return district_balance(make_network(), make_reduced(), settings=Settings(), works=no_works)


def test_the_two_ways_stand_side_by_side(found: Any) -> None:
    volume = found.annual.set_index(["cell_id", "component"])["volume_m3"]
    gaps = found.loss_gaps.set_index("cell_id")
    assert list(gaps.index) == ["district", "North", "South"]
    for area, row in gaps.iterrows():
        assert row["top_down_m3"] == volume[area, "real losses"]
        assert row["bottom_up_m3"] == volume[area, "real losses, bottom-up from night flows"]
        assert row["gap_m3"] == pytest.approx(row["top_down_m3"] - row["bottom_up_m3"])
        assert row["agrees"] == (row["gap_m3_low"] <= 0 <= row["gap_m3_high"])
    half = [gaps[f"{n}_high"] - gaps[n] for n in ("gap_m3", "top_down_m3")]
    low = gaps["bottom_up_m3"] - gaps["bottom_up_m3_low"]
    np.testing.assert_allclose(half[0], np.hypot(half[1], low))


@pytest.mark.parametrize("table", [LOSS_GAPS, GAP_CAUSES], ids=lambda t: t.name)
def test_tables_are_as_declared(found: Any, table: Any) -> None:
    frame = getattr(found, table.name)
    assert tuple(frame.columns) == table.names()
    _, findings = check(table, frame, source=table.name)
    assert findings == ()


def test_without_nights_there_is_no_gap(
    make_network: Any, make_reduced: Any, no_works: Any
) -> None:
    reduced = make_reduced(night_flows=make_reduced().night_flows.iloc[:0])
    found = district_balance(make_network(), reduced, settings=Settings(), works=no_works)
    assert found.gap_causes.empty
    assert set(found.loss_gaps["statement"]) == {
        "Not known: no usable night in the year in North and South.",
        "Not known: no usable night in the year.",
    }
    assert found.loss_gaps["agrees"].isna().all()


def test_a_zone_without_nights_leaves_the_district_without_a_gap(
    make_network: Any, make_reduced: Any, night_table: Any, no_works: Any, nights: Any
) -> None:
    # M1 is not read at night: North has days and no nights, South has both.
    reduced = make_reduced(night_flows=night_table(nights, {"M2": 0.4, "B1": 0.2}))
    found = district_balance(make_network(), reduced, settings=Settings(), works=no_works)
    gaps = found.loss_gaps.set_index("cell_id")
    assert gaps["gap_m3"].isna().to_dict() == {"district": True, "North": True, "South": False}
    assert gaps["agrees"].isna().to_dict() == {"district": True, "North": True, "South": False}
    assert gaps.loc["district", "statement"] == ("Not known: no usable night in the year in North.")
    assert gaps.loc["North", "statement"] == "Not known: no usable night in the year."
    assert set(found.gap_causes["cell_id"]) == {"South"}
    assert (
        "Annual balance: no usable night in the year in North, which the district's real losses "
        "from night flows leave out." in found.basis.assumptions
    )


def test_statement_says_the_side_and_the_most_plausible_cause() -> None:
    cause = {
        "input": "household night use",
        "unit": "L/property/h",
        "value": 1.7,
        "closing_value": 2.04,
        "deviations_index": 0.96,
        "possible": True,
    }
    gap = estimate(1234.0, 200.0, 2300.0)
    assert statement(gap, cause=cause) == (
        "The balance finds 1\xa0200 m³ a year more than the nights do, beyond the limits of both. "
        "Most plausible: household night use, 2 L/property/h in place of 1.7."
    )
    far = statement(estimate(-50.0, -60.0, -40.0), cause=cause | {"deviations_index": 7.0})
    assert "50 m³ a year less" in far
    assert "No single input closes it within its own limits; nearest is household" in far
    for other in (None, cause | {"possible": False}):
        assert statement(gap, cause=other).endswith("No single input can close it.")
    assert statement(estimate(5.0, -1.0, 9.0), cause=cause).startswith("The two ways agree")


def test_possible_causes_come_first_and_near_ones_before_far() -> None:
    rows = pd.DataFrame(
        {
            "area": [0, 0, 0, 1],
            "cell_id": ["district"] * 3 + ["A"],
            "input": ["a", "b", "c", "d"],
            "value": 1.0,
            "closing_value": 2.0,
            "unit": "%",
            "deviations_index": [3.0, 1.0, np.nan, 9.0],
            "possible": [True, False, True, True],
        }
    )
    assert list(ranked(rows)["input"]) == ["a", "c", "b", "d"]
    assert list(ranked(rows)["rank"]) == [1.0, 2.0, 3.0, 1.0]
