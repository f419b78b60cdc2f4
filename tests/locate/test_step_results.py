"""Tests of `district.locate.step_results`."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from district.locate.step_results import step_assumed, step_results
from district.schema.columns import check
from district.schema.field_records import STEP_TESTS
from district.schema.step_tables import STEP_SECTIONS
from tests.locate.field_scene import LONDON, rows, street

NETWORK = street()
TEST = rows(
    STEP_TESTS,
    *(
        {
            "test_id": "T1",
            "time": f"2025-11-03T01:{15 * n:02d}Z",
            "valve_id": valve,
            "flow_l_s": flow,
            "spread_l_s": 0.02,
        }
        for n, (valve, flow) in enumerate([(None, 1.3), ("V2", 0.2), ("V1", 0.1)])
    ),
)


def test_each_section_beside_its_length_properties_and_use() -> None:
    found = step_results(NETWORK, "A", TEST, settings=LONDON)
    assert list(found.columns) == list(STEP_SECTIONS.names())
    assert check(STEP_SECTIONS, found, source="results")[1] == ()
    assert found["section_id"].tolist() == ["1", "2", "0"]
    assert found["valve_id"].tolist() == ["V2", "V1", ""]
    # By the drawing: 190 m and two houses of ten behind V2, 200 m and as many behind V1.
    assert found["length_m"].tolist() == pytest.approx([190.0, 200.0, 260.0])
    assert found["properties_count"].tolist() == [20, 20, 10]
    far = found.iloc[0]
    assert far["drop_l_s"] == pytest.approx(1.1)
    assert far["drop_l_s_high"] - far["drop_l_s"] == pytest.approx(0.02 * np.sqrt(2))
    use = (20 * 1.7 + 1.5 * (0.19 * 20 + 2 * 1.25)) / 3600
    assert far["use_l_s"] == pytest.approx(use)
    assert far["beyond_l_s"] == pytest.approx(1.1 - use + 0.05 * 0.2)
    assert far["beyond_l_km_h"] == pytest.approx(far["beyond_l_s"] * 3600 / 0.19)
    assert far["beyond_l_property_h"] == pytest.approx(far["beyond_l_s"] * 3600 / 20)
    assert far["shows"]
    assert far["said"].startswith("Section 1, behind V2 (190 m, 20 properties): 1.10")
    assert found["said"].iloc[2].startswith("What stayed open")
    assert len(step_assumed(found)) == 2


def test_a_leak_that_is_known_leaves_the_rest_for_use() -> None:
    plain, known = (
        step_results(NETWORK, "A", TEST, settings=LONDON, flow_l_s=flow, limit_l_s=0.05)
        for flow in (np.nan, 1.0)
    )
    assert (known["use_l_s"] > plain["use_l_s"]).all()
    assert known["beyond_l_s"].iloc[0] < plain["beyond_l_s"].iloc[0]


def test_the_worst_by_kilometre_need_not_be_the_worst_in_all() -> None:
    """Sections are ranked by net leakage per km or per connection (common practice, from memory):
    0.3 L/s from 190 m is more by length than 0.31 L/s from 200 m."""
    table = TEST.assign(flow_l_s=[1.3, 1.0, 0.69])
    found = step_results(NETWORK, "A", table, settings=LONDON).set_index("section_id")
    assert found["drop_l_s"]["2"] > found["drop_l_s"]["1"]
    assert found["beyond_l_km_h"]["1"] > found["beyond_l_km_h"]["2"]


def test_nothing_to_tell_is_an_empty_table() -> None:
    for table in (TEST.iloc[:0], TEST.assign(valve_id=None)):
        found = step_results(NETWORK, "A", table, settings=LONDON)
        assert list(found.columns) == list(STEP_SECTIONS.names())
        assert found.empty
        assert step_assumed(found) == ()
    assert step_results(NETWORK, "supply S", TEST, settings=LONDON).empty


def test_a_section_without_properties_has_no_figure_by_property() -> None:
    bare = replace(NETWORK, connections=NETWORK.connections.iloc[:0])
    found = step_results(bare, "A", TEST, settings=LONDON)
    assert found["beyond_l_property_h"].isna().all()
    assert pd.notna(found["beyond_l_km_h"]).all()
