"""Tests of `district.hydraulics.sources`."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from shapely.geometry import Point

from district.errors import StageError
from district.hydraulics import draw_model
from district.network import Network, build_network
from district.results import Inputs
from district.settings import Settings


def _with(network: Network, **columns: object) -> Network:
    return replace(network, sources=network.sources.assign(**columns))


def _held(network: Network, **options: pd.DataFrame) -> dict[str, float]:
    model = draw_model(network, settings=Settings(), **options).model
    at = np.flatnonzero(np.isfinite(model.fixed_head_m))
    return {str(model.node_id[n]): float(model.fixed_head_m[n]) for n in at}


def test_a_source_holds_its_head_at_the_nearest_end_of_its_pipe(network: Network) -> None:
    start = network.nodes.index[network.pipes.at["T1/1", "start_position"]]
    assert _held(_with(network, head_m=80.0)) == {start: 80.0}


def test_a_head_that_is_not_told_comes_from_the_nearest_logger_with_a_level(
    network: Network,
) -> None:
    network = _with(network, head_m=np.nan)
    network.sensors["elevation_m"] = 12.0
    read = pd.DataFrame({"device_id": "P1", "day": "2025-01-01", "hour": [0, 1],
                         "pressure_m": [40.0, 44.0]})  # fmt: skip
    assert list(_held(network, pressures=read).values()) == [54.0]
    said = draw_model(network, settings=Settings(), pressures=read).assumed
    assert "The head of source S is not told: taken from logger P1." in said


def test_a_logger_behind_a_reducing_valve_tells_no_head_before_it(
    with_layers: Callable[..., Inputs],
) -> None:
    valves = with_layers().valves
    valves = pd.concat([valves, valves.iloc[[1]].assign(valve_id="R", geometry=[Point(350, 0)])])
    read = pd.DataFrame({"device_id": "P1", "day": "2025-01-01", "hour": [0], "pressure_m": [20.0]})

    def head(kind: str) -> float:
        both = valves.assign(kind=["boundary", "boundary", kind], setting_m=[np.nan, np.nan, 20.0])
        built = build_network(with_layers(valves=both), settings=Settings())
        built.sensors["elevation_m"] = 12.0
        return next(iter(_held(_with(built, head_m=np.nan), pressures=read).values()))

    assert head("isolation") == 32.0
    assert 10.0 + 40.0 < head("pressure_reducing") < 30.0 + 40.0  # assumed above ground


def test_without_a_logger_it_is_the_assumed_pressure_above_ground(network: Network) -> None:
    network = _with(network, head_m=np.nan)
    head = next(iter(_held(network).values()))
    assert 10.0 + 40.0 < head < 30.0 + 40.0
    assert any(
        s.endswith("tells changes of pressure but not pressure itself.")
        for s in draw_model(network, settings=Settings()).assumed
    )


def test_two_sources_of_which_one_has_no_head_cannot_be_modelled(
    network: Network,
) -> None:
    second = network.sources.iloc[[0]].assign(source_id="S2", pipe_id="B2", head_m=70.0)
    both = gpd.GeoDataFrame(pd.concat([network.sources, second.set_axis(["S2"])]))
    with pytest.raises(StageError, match="source S feeds them together with others"):
        draw_model(replace(network, sources=both), settings=Settings())


def test_no_source_on_a_pipe_cannot_be_modelled(network: Network) -> None:
    with pytest.raises(StageError, match="no source lies on a pipe"):
        draw_model(_with(network, pipe_id=""), settings=Settings())


def test_a_tank_feeds_a_part_of_its_own(network: Network) -> None:
    tank = network.sensors.assign(kind="tank_level", elevation_m=33.0)
    network = replace(_with(network, pipe_id=""), sensors=tank)
    assert list(_held(network).values()) == [33.0]


@pytest.fixture
def network(with_layers: Callable[..., Inputs]) -> Network:
    return build_network(with_layers(), settings=Settings())
