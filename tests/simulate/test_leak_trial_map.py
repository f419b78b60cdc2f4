"""Mains, connections and loggers of a drawn zone."""

from __future__ import annotations

import numpy as np
import pytest

from district.schema.inputs import MATERIALS
from district.simulate.leak_trial_map import SOURCE, YEAR, ZONE, ZoneMap, along, furnish
from district.simulate.leak_trial_map import textbook_roughness as textbook
from district.simulate.leak_trial_streets import draw_streets_of_zone


def zone_map(seed: int, *, gates_count: int = 2, metered_share: float = 0.05) -> ZoneMap:
    rng = np.random.default_rng(seed)
    streets = draw_streets_of_zone(
        rng, pipes_count=600, loops_share=0.17, block_m=60.0, gates_count=gates_count
    )
    return furnish(rng, streets, loggers_count=12, metered_share=metered_share)


@pytest.mark.parametrize("gates_count", [1, 2])
def test_the_source_feeds_the_zone_through_its_meters_alone(gates_count: int) -> None:
    drawn = zone_map(1, gates_count=gates_count)
    pipes, meters = drawn.pipes, drawn.meters["node"].to_numpy()
    assert len(meters) == gates_count
    outside = pipes[pipes["cell_id"] == SOURCE]
    assert set(outside["end"]) == {drawn.source + 1, *meters}
    crossing = pipes[pipes["cell_id"] == ZONE]
    assert not crossing[["start", "end"]].isin([drawn.source, drawn.source + 1]).any(axis=None)
    assert sorted(crossing.loc[crossing["start"].isin(meters), "start"]) == sorted(meters)
    assert len(drawn.nodes) == pipes[["start", "end"]].to_numpy().max() + 1


def test_mains_are_of_known_materials_and_likely_roughness() -> None:
    pipes = zone_map(2).pipes
    assert set(pipes["material"]) <= set(MATERIALS)
    assert pipes["installed_year"].between(1900, YEAR).all()
    off = np.log(
        pipes["roughness_index"].to_numpy()
        / textbook(pipes["material"], pipes["installed_year"].to_numpy())
    )
    assert 0.05 < off.std() < 0.25
    assert pipes["roughness_index"].between(35.0, 155.0).all()


def test_old_iron_is_rougher_than_new_plastic() -> None:
    old, new = textbook(["cast_iron", "pvc"], np.array([1920.0, 2015.0]))
    assert old < 80.0 < 140.0 < new


def test_connections_lie_on_mains_of_the_zone_and_the_largest_are_read() -> None:
    drawn = zone_map(3)
    taps = drawn.taps
    assert (drawn.pipes["cell_id"].to_numpy()[taps["pipe"]] == ZONE).all()
    per_km = len(taps) / (drawn.pipes["length_m"].sum() / 1000)
    assert 20 < per_km < 120
    read = taps["meter_id"] != ""
    assert read.mean() == pytest.approx(0.05, abs=0.001)
    assert taps.loc[read, "mean_l_s"].min() >= taps.loc[~read, "mean_l_s"].max()


def test_no_meter_is_read_where_none_is_asked_for() -> None:
    assert (zone_map(3, metered_share=0.0).taps["meter_id"] == "").all()


def test_loggers_are_as_many_as_asked_for_on_pipes_of_their_own() -> None:
    loggers = zone_map(4).loggers
    assert len(loggers) == loggers["pipe"].nunique() == loggers["sensor_id"].nunique() == 12
    assert loggers["share"].between(0.0, 1.0).all()


def test_values_along_a_pipe_lie_between_those_of_its_ends() -> None:
    drawn = zone_map(5)
    level = drawn.nodes["elevation_m"].to_numpy()
    at = along(drawn, level, drawn.loggers)
    ends = level[drawn.pipes[["start", "end"]].to_numpy()[drawn.loggers["pipe"]]]
    assert (at >= ends.min(axis=1)).all()
    assert (at <= ends.max(axis=1)).all()
