"""Tests of `district.survey.fittings`."""

from __future__ import annotations

from dataclasses import replace

import pytest

from district.survey.fittings import along_line, fittings_of
from tests.survey.conftest import Scene


def test_what_each_is_and_whether_it_is_on_the_main(scene: Scene) -> None:
    found = scene.fittings
    kinds = dict(zip(found.name, found.kind, strict=True))
    assert kinds["V1"] == "valve"
    assert kinds["M1"] == "meter"
    assert kinds["N1"] == "sensor"
    assert kinds["HY1"] == "hydrant"
    assert kinds["H5"] == "connection"
    assert "W1" not in kinds  # a wet-floor sensor hears nothing
    assert {n for n, main in zip(found.name, found.on_main, strict=True) if main} == {
        "V1", "V2", "V3", "M1", "N1", "HY1",
    }  # fmt: skip


def test_only_what_is_near_a_pipe_and_none_where_there_are_none(scene: Scene) -> None:
    near = fittings_of(scene.network, near_m=1.0)
    assert "H5" not in set(near.name)
    layers = ("valves", "meters", "sensors", "connections")
    bare = replace(scene.network, **{n: getattr(scene.network, n).iloc[:0] for n in layers})
    assert len(fittings_of(bare, near_m=60.0).name) == 0


def test_a_customers_meter_is_left_to_its_connection(scene: Scene) -> None:
    houses = scene.network.connections
    meters = scene.network.meters
    two = meters.loc[["M1", "M1"]].assign(role="customer").set_axis(["CM1", "CM2"])
    network = replace(
        scene.network,
        meters=two,
        connections=houses.assign(meter_id=["CM1", *[""] * (len(houses) - 1)]),
    )
    names = set(fittings_of(network, near_m=60.0).name)
    assert "CM2" in names
    assert "CM1" not in names


def test_along_a_line_in_order(scene: Scene) -> None:
    number, at_m = along_line(scene.fittings, scene.pieces["B"].line)
    assert scene.fittings.name[number].tolist()[:3] == ["V1", "H5", "H6"]
    assert at_m[:3] == pytest.approx([10, 25, 50])
