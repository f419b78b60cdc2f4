"""Tests of `district.isolate.step_sections`."""

from __future__ import annotations

import numpy as np
import pytest

from district.hydraulics.stepping import NightUse
from district.isolate.step_sections import Sought, section_table, walk_of
from district.schema.columns import check
from district.schema.step_tables import STEP_PLAN_SECTIONS
from district.settings import Settings
from tests.isolate.towns import town


def test_falls_are_use_and_leak_and_a_coarse_meter_hides_them() -> None:
    network = town()
    metres = network.pipes["length_m"].to_numpy()
    section = np.where(network.pipes.index.str.startswith("P7"), 1, 0)
    tables = [
        section_table(
            network,
            section,
            metres,
            ["V7"],
            [""],
            [1.0],
            sought=Sought(0.5, 0.4, 0.6),
            counted_l=counted_l,
            interval_s=900.0,
            settings=Settings(),
        )
        for counted_l in (0.0, 1000.0)
    ]
    fine, coarse = tables
    _, findings = check(STEP_PLAN_SECTIONS, fine, source="sections")
    assert findings == ()
    assert fine["section_id"].tolist() == ["1", "0"]
    assert fine["length_share"].sum() == pytest.approx(1.0)
    assert fine["properties_count"].tolist() == [32, 31]
    # 32 properties of 1.7 L/h, 0.1 km of 20 L/km/h and a connection of 1.25 L/h, times 1.5.
    use = (32 * 1.7 + 1.5 * (0.1 * 20 + 1.25)) / 3600
    assert fine["use_l_s"].iloc[0] == pytest.approx(use)
    assert fine["drop_with_l_s"].iloc[0] == pytest.approx(use + 0.5)
    assert fine["drop_without_l_s"].iloc[0] < use  # pressure rises in what stays open
    assert fine["shows"].all()
    assert fine["wrong_share"].max() < 0.01
    # Two readings, each good to 0.86 L/s, cannot tell 0.5 L/s.
    assert not coarse["shows"].any()
    assert coarse["wrong_share"].min() > 0.2


def test_the_walk_and_its_limits() -> None:
    """By hand: 1,000 m alike, so 500 m in the mean, 25 and 975 m at the ends of 95 %; in two
    sections of 500 m half of that."""
    metres = np.full(10, 100.0)
    whole = walk_of(metres, metres, np.zeros(10, dtype=np.int64))
    halves = walk_of(metres, metres, np.repeat([0, 1], 5))
    assert whole == pytest.approx((500.0, 25.0, 975.0), rel=0.01)
    assert halves == pytest.approx((250.0, 12.5, 487.5), rel=0.01)
    assert walk_of(np.zeros(10), metres, np.zeros(10, dtype=np.int64)) == (0.0, 0.0, 0.0)


def test_the_night_flow_tells_how_much_is_used() -> None:
    use = NightUse(np.array([1.0, 3.0]), np.array([0.4, 1.2]), np.array([0.05, 0.05]))
    unknown = Sought(0.5, 0.4, 0.6).beside(use)
    assert unknown is use
    known = Sought(0.5, 0.4, 0.6, 6.5).beside(use)
    assert 5.5 < known.use_l_s.sum() < 6.0
    assert known.use_l_s[1] == pytest.approx(3 * known.use_l_s[0])
