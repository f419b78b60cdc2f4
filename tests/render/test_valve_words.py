"""What hangs on the valves, in words: on a small town whose segments can be told by hand."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pandas as pd
import pytest

from district.render.valve_words import failures_of_valves, shut_of_stretches
from district.results import DistrictReport
from district.schema import empty
from district.schema.entry_forms import ENTRIES
from district.settings import Settings
from district.shutting import valves_of
from tests.isolate.towns import town


@pytest.fixture
def of_town(report: DistrictReport) -> DistrictReport:
    network = town(of_houses={"H7": {"critical": True}})
    likelihood = pd.DataFrame(
        {
            "pipe_id": network.pipes.index,
            "stretch_id": network.pipes["layer_pipe_id"].to_numpy(),
        }
    )
    return replace(
        report,
        location=replace(report.location, likelihood=likelihood),
        isolation=valves_of(network, empty(ENTRIES), settings=Settings()),
    )


def test_a_stretch_tells_each_segment_it_lies_in_and_who_is_dry(of_town: DistrictReport) -> None:
    said = shut_of_stretches(of_town)
    # P7 is parted by V7: 10 m before it, with P3, H3 (4) and all beyond (32), and the rest.
    assert said["P7"] == [
        "shut V3 and V7: 36 properties dry, 1 critical user among them",
        "shut V7: 32 properties dry, 1 critical user among them",
    ] or set(said["P7"]) == {
        "shut V3 and V7: 36 properties dry, 1 critical user among them",
        "shut V7: 32 properties dry, 1 critical user among them",
    }
    assert any("source S at its works" in line for line in said["P1"])


def test_a_valve_tells_what_more_is_dry_where_it_fails(of_town: DistrictReport) -> None:
    said = failures_of_valves(of_town.isolation.valve_losses)
    assert set(said) == {"V1", "V2", "V3", "V4", "V5", "V7"}
    assert said["V3"].startswith("up to ")
    assert "for a break in the segment of" in said["V3"]


@pytest.mark.parametrize(
    ("row", "expected"),
    [
        ({"beside": "V9", "worst_for": ""}, "V9 at the same place instead"),
        ({"beside": "", "worst_for": ""}, "nobody more is dry"),
        (
            {"beside": "", "worst_for": "P3", "more_properties_count": 1, "more_critical_count": 0},
            "up to 1 property more dry, for a break in the segment of P3",
        ),
    ],
)
def test_words_of_one_valve(row: dict[str, Any], expected: str) -> None:
    assert failures_of_valves(pd.DataFrame([{"valve_id": "V1", **row}])) == {"V1": expected}


def test_a_report_without_valves_says_nothing(report: DistrictReport) -> None:
    from district.results import Isolation

    bare = replace(report, isolation=Isolation())
    assert shut_of_stretches(bare) == {}
