"""Tests of `district.isolate.new_valves`: the gain told is that of the map with the valve drawn."""

from __future__ import annotations

import numpy as np
import pytest

from district.isolate.losses import segment_losses
from district.isolate.new_valves import new_valves
from district.isolate.segments import Segments
from district.schema.isolate_tables import NEW_VALVES
from tests.isolate.towns import HOUSES, STREETS, VALVES_THERE, cut, town

_BESIDE_M = 1.0


def mean_lost(segments: Segments) -> float:
    """Properties without water for a break anywhere, the mean by length."""
    lost = segment_losses(segments).set_index("segment_id")
    length = segments.table.set_index("segment_id")["length_m"].reindex(lost.index)
    return float(np.average(lost["dry_properties_count"], weights=length))


def test_the_gain_is_that_of_the_map_with_the_valve_drawn() -> None:
    network = town()
    table = new_valves(network, cut(network), most_count=3)
    assert tuple(table.columns) == NEW_VALVES.names()
    assert table.crs == network.pipes.crs
    valves = dict(VALVES_THERE)
    assert table["before_properties_count"].iloc[0] == pytest.approx(mean_lost(cut(network)))
    for row in table.to_dict("records"):
        line = network.pipes.geometry[row["pipe_id"]]
        # A metre from the end, so that it stands on this pipe and no other.
        along = _BESIDE_M if line.coords[0] == row["geometry"].coords[0] else -_BESIDE_M
        valves[f"N{row['rank']}"] = line.interpolate(along).coords[0]
        after = mean_lost(cut(town(valves=valves)))
        # Within what the metre between valve and junction makes of it.
        assert row["after_properties_count"] == pytest.approx(after, abs=0.3)
        gain = 1 - row["after_properties_count"] / row["before_properties_count"]
        assert row["gain_share"] == pytest.approx(gain)


def test_no_other_place_for_a_first_valve_gains_more() -> None:
    network = town()
    (row,) = new_valves(network, cut(network), most_count=1).to_dict("records")
    for name in ("P2/2", "P3/1", "P4/2", "P6", "P7/2"):
        line = network.pipes.geometry[name]
        for along in (_BESIDE_M, -_BESIDE_M):
            place = line.interpolate(along).coords[0]
            after = mean_lost(cut(town(valves={**VALVES_THERE, "N": place})))
            assert after > row["after_properties_count"] - 0.3, (name, along)


def test_each_is_told_in_a_sentence() -> None:
    network = town()
    said = new_valves(network, cut(network), most_count=1)["said"].tolist()
    assert said == [
        "One more valve on pipe P6, where it meets P2/2 and P3/1, parts 110 m from 100 m: a break "
        "anywhere then takes water from 30 properties in the mean, not 38 (22 % fewer)."
    ]


def test_nothing_is_advised_where_nothing_is_gained() -> None:
    ring = {n: STREETS[n] for n in ("P2", "P4", "P5", "P6")}
    network = town(ring, {}, sources={"S": (100, 0)}, houses={})
    assert new_valves(network, cut(network)).empty
    unfed = town(sources={})
    assert new_valves(unfed, cut(unfed)).empty


def test_a_valve_that_parts_nothing_alone_works_with_a_new_one() -> None:
    # On the ring V2 alone parts nothing; a new valve on the far side parts the ring in two.
    network = town(valves={"V1": (90, 0), "V2": (110, 0)}, houses=HOUSES)
    segments = cut(network)
    row = new_valves(network, segments, most_count=1).iloc[0]
    assert row["after_properties_count"] < mean_lost(segments) - 5
