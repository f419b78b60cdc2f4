"""Tests of `district.hydraulics.links`."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from shapely.geometry import Point

from district.hydraulics import Drawn, Kind, draw_model
from district.network import build_network
from district.results import Inputs
from district.schema.inputs import VALVES
from district.settings import Settings
from tests.network.conftest import layer


def _drawn(with_layers: Callable[..., Inputs], **changes: object) -> Drawn:
    return draw_model(build_network(with_layers(**changes), settings=Settings()),
                      settings=Settings())  # fmt: skip


def test_pipes_come_first_with_what_the_layer_tells(with_layers: Callable[..., Inputs]) -> None:
    pipes = with_layers().pipes.assign(
        diameter_mm=[100.0, np.nan, 100.0, 150.0, 100.0], roughness=[99.0, *[np.nan] * 4]
    )
    drawn = _drawn(with_layers, pipes=pipes)
    model, by_id = drawn.model, {str(x): n for n, x in enumerate(drawn.model.link_id)}
    assert drawn.pipe_link.tolist() == list(range(len(by_id)))
    assert model.roughness[by_id["T1/1"]] == 99.0
    assert model.roughness[by_id["B2"]] == 145.0
    assert model.diameter_mm[by_id["A2/1"]] == 100.0
    assert model.diameter_mm[by_id["B2"]] == 150.0
    assert "Diameter of 3 pipes is taken as 100 mm." in drawn.assumed
    assert "Roughness of 7 pipes is taken from material and age." in drawn.assumed


def test_an_acting_valve_is_a_link_the_way_the_water_runs(
    with_layers: Callable[..., Inputs],
) -> None:
    valves = layer(
        VALVES,
        valve_id=["V1", "R", "C"],
        geometry=[Point(320, 100), Point(350, 0), Point(150, 0)],
        kind=["boundary", "pressure_reducing", "check"],
        state=["shut", "open", "open"],
        setting_m=[np.nan, 30.0, np.nan],
    )
    drawn = _drawn(with_layers, valves=valves)
    model = drawn.model
    assert model.link_id[-2:].tolist() == ["C", "R"]
    assert model.kind[-2:].tolist() == [Kind.CHECK, Kind.REDUCING]
    assert model.setting_m[-1] == 30.0
    assert np.isnan(model.setting_m[:-1]).all()
    by_id = {str(x): n for n, x in enumerate(model.link_id)}
    # Drawn from the west, where the source is.
    into = {int(model.start[by_id[p]]) for p in by_id if p.startswith("A2")}
    assert int(model.end[-1]) in into
    assert int(model.start[-1]) in {int(model.end[by_id[p]]) for p in by_id if p.startswith("A2")}
    assert (
        "Which way water may pass C and R is not recorded: taken as it would run with the valve "
        "open."
    ) in drawn.assumed


def test_a_reducing_valve_without_setting_stands_open(with_layers: Callable[..., Inputs]) -> None:
    valves = layer(VALVES, valve_id=["R"], geometry=[Point(350, 0)], kind=["pressure_reducing"],
                   state=["open"])  # fmt: skip
    drawn = _drawn(with_layers, valves=valves)
    assert drawn.model.kind.tolist() == [Kind.PIPE] * len(drawn.model.kind)
    assert "Reducing valve R has no setting: taken as fully open." in drawn.assumed
    assert not any("Which way" in s for s in drawn.assumed)
