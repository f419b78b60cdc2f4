"""Estimated nights and days in the hand-typed district."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.balance import district_balance
from district.balance.estimated import fill_missing


@pytest.fixture
def with_gap(make_reduced: Any, night_table: Any, day_table: Any, nights: Any) -> Any:
    """The transfer meter M2 without readings on the last but one night and day."""

    def make(meter: str = "M2") -> Any:
        flows = night_table(nights, {"M1": 1.0, "M2": 0.4, "B1": 0.2})
        days = day_table(nights, {"M1": 130.0, "M2": 50.0, "B1": 25.0, "C1": 4.0, "C2": 10.0})
        gone = nights[18]
        return make_reduced(
            night_flows=flows[~((flows["device_id"] == meter) & (flows["night"] == gone))],
            daily_volumes=days[~((days["device_id"] == meter) & (days["day"] == gone))],
        )

    return make


def test_a_missing_transfer_night_is_estimated_and_marked(
    make_network: Any, with_gap: Any, settings: Any, no_works: Any, nights: Any
) -> None:
    found = district_balance(make_network(), with_gap(), settings=settings, works=no_works)
    table = found.nights.set_index(["cell_id", "night"])
    for cell in ("North", "South"):
        row, before = table.loc[(cell, nights[18])], table.loc[(cell, nights[17])]
        assert row["status"] == "estimated"
        assert before["status"] == "measured"
        assert row["leakage_l_s"] == pytest.approx(before["leakage_l_s"], abs=1e-6)
        width = row["leakage_l_s_high"] - row["leakage_l_s_low"]
        assert width >= before["leakage_l_s_high"] - before["leakage_l_s_low"] - 1e-9
    assert any("M2 lacked readings on 1 night" in a for a in found.basis.assumptions)
    # Zone figures rest on measured nights only.
    assert (found.zones["nights_count"] == 19).all()
    inflow = found.days.set_index(["cell_id", "day"])["inflow_m3"]
    assert inflow["North", nights[18]] == pytest.approx(80.0)
    assert inflow["South", nights[18]] == pytest.approx(50.0)


def test_a_missing_inlet_leaves_the_night_without_figures(
    make_network: Any, with_gap: Any, settings: Any, no_works: Any, nights: Any
) -> None:
    found = district_balance(make_network(), with_gap("M1"), settings=settings, works=no_works)
    table = found.nights.set_index(["cell_id", "night"])
    assert table.loc[("North", nights[18]), "status"] == "no_inflow"
    assert np.isnan(table.loc[("North", nights[18]), "leakage_l_s"])
    assert table.loc[("South", nights[18]), "status"] == "measured"
    assert not any("lacked readings" in a for a in found.basis.assumptions)


def test_complete_readings_are_handed_on_as_they_are(make_network: Any, make_reduced: Any) -> None:
    reduced = make_reduced()
    filled = fill_missing(make_network(), reduced)
    assert filled.reduced is reduced
    assert filled.assumptions == ()


def test_the_readings_given_are_not_written_to(make_network: Any, with_gap: Any) -> None:
    reduced = with_gap()
    before = reduced.night_flows.copy()
    fill_missing(make_network(), reduced)
    pd.testing.assert_frame_equal(reduced.night_flows, before)
