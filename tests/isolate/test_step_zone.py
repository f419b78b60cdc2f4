"""Tests of `district.isolate.step_zone`."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd
import pytest

from district.errors import StageError
from district.isolate.step_zone import ZoneSegments, zone_segments
from district.network import Network
from tests.isolate.towns import cut, town

ZONE = "supply S"


def found_of(network: Network) -> tuple[ZoneSegments, dict[str, int]]:
    zone = zone_segments(network, cut(network), ZONE)
    return zone, dict(zip(network.pipes.index, zone.pipe.tolist(), strict=True))


def test_segments_and_gates_of_the_drawn_town() -> None:
    """By the drawing: the loop of P2, P4, P5 and P6 lies between V2, V4 and V5."""
    network = town()
    zone, of = found_of(network)
    assert of["P1/1"] == 0
    assert of["P1/2"] == of["P2/1"] == of["P4/1"]
    assert of["P2/2"] == of["P6"] == of["P3/1"] == of["P5/2"]
    assert of["P4/2"] == of["P5/1"]
    assert zone.count() == 6
    assert len(zone.gate) == 6
    assert zone.length_m.sum() == pytest.approx(network.pipes["length_m"].sum())
    assert zone.kept.tolist() == [True] + 5 * [False]
    assert zone.far_m[of["P7/2"]] > zone.far_m[of["P2/2"]] > zone.far_m[of["P1/2"]] > 0
    taps = dict(zip(network.connections.index, zone.tap.tolist(), strict=True))
    assert taps["H6"] == of["P6"]


def test_who_must_keep_water_is_named_and_kept() -> None:
    network = town(
        of_houses={"H3": {"use_class": "Dialysis ward", "building_id": "Ward 4"}},
        tanks={"TK": (150, 100)},
    )
    zone, of = found_of(network)
    assert zone.kept[of["P3/2"]]
    assert zone.kept[of["P5/1"]]
    assert not zone.kept[of["P7/2"]]
    assert any("H3 of Ward 4" in said for said in zone.reasons)
    assert any("tank" in said for said in zone.reasons)


def test_the_way_to_another_zone_is_kept() -> None:
    network = town(meters={"M": (390, 0)})
    bounds = pd.DataFrame(
        [("M", ZONE, "B", "outlet", "pulse", 2.0)],
        columns=["meter_id", "upstream_cell_id", "downstream_cell_id", "role", "kind",
                 "error_percent"],
    )  # fmt: skip
    zone, of = found_of(replace(network, boundaries=bounds))
    assert of["P7/3"] == -1
    assert zone.kept[of["P7/2"]]
    assert "another" in zone.reasons[0]


def test_what_is_shut_or_does_not_turn_is_no_gate() -> None:
    stuck = town(of_valves={"V3": {"operable": False}})
    zone, of = found_of(stuck)
    assert of["P3/2"] == of["P2/2"]
    shut = town(of_valves={"V5": {"state": "shut"}})
    zone, of = found_of(shut)
    assert len(zone.gate) == zone.count() - 1


def test_a_zone_without_inlet_or_valve_says_so() -> None:
    network = town(meters={"M": (50, 0)})
    with pytest.raises(StageError, match="no meter or source"):
        zone_segments(network, cut(network), "unzoned/1")
    with pytest.raises(StageError, match="no open valve"):
        zone_segments(network, cut(network), ZONE)
