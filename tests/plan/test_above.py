from __future__ import annotations

from typing import Any

import pytest
from shapely.geometry import LineString, box

from district.plan.above import above_pipes, dearest_first
from district.settings import Renew, Settings, Surface
from tests.plan.cost_scene import layer_of, table_of

ONE = [{"pipe_id": "P1", "geometry": LineString([(0, 0), (100, 0)])}]


def surface(surface_id: str, kind: str, *bounds: float) -> dict[str, Any]:
    return {"surface_id": surface_id, "kind": kind, "geometry": box(*bounds)}


def street(street_id: str, kind: str, y: float) -> dict[str, Any]:
    line = LineString([(0, y), (100, y)])
    return {"street_id": street_id, "kind": kind, "geometry": line}


def shares(
    surfaces: list[dict[str, Any]], streets: list[dict[str, Any]] = (), **renew: float
) -> dict[str, float]:
    found = above_pipes(
        layer_of(ONE),
        table_of("streets", list(streets)),
        table_of("surfaces", surfaces),
        settings=Settings(renew=Renew(**renew)),
    )
    return dict(zip(found["kind"], found["above_share"], strict=True))


def test_share_of_length_under_each_kind() -> None:
    found = shares([surface("a", "road", 0, -5, 30, 5), surface("b", "building", 80, -5, 200, 5)],
                   surface_near_m=0.0)  # fmt: skip
    assert found == {"building": pytest.approx(0.2), "road": pytest.approx(0.3)}


def test_beside_it_within_reach_counts() -> None:
    beside = [surface("a", "railway", 0, 1.5, 100, 9)]
    assert shares(beside) == {"railway": 1.0}
    assert shares(beside, surface_near_m=1.0) == {}


def test_the_dearest_counts_where_several_lie_above() -> None:
    both = [surface("a", "road", 0, -5, 100, 5), surface("b", "building", 0, -5, 50, 5)]
    for surfaces in (both, both[::-1]):
        assert shares(surfaces, surface_near_m=0.0) == {"building": 0.5, "road": 0.5}


def test_a_pipe_lies_under_the_nearest_street() -> None:
    ways = [street("s1", "main_road", 20), street("s2", "path", 3)]
    assert shares([], ways) == {"path": 1.0}
    assert shares([], ways[:1]) == {"main_road": 1.0}
    assert shares([], ways[:1], street_near_m=10.0) == {}
    # As near: the dearer.
    assert shares([], [street("s1", "path", 3), street("s2", "road", -3)]) == {"road": 1.0}
    # A surface that is dearer than the street counts.
    rails = [surface("r", "railway", 40, -5, 60, 5)]
    found = shares(rails, ways[:1], surface_near_m=0.0)
    assert found == {"railway": pytest.approx(0.2), "main_road": pytest.approx(0.8)}


def test_order_of_kinds_follows_the_settings() -> None:
    assert dearest_first(Settings()) == (
        "building", "railway", "main_road", "road", "path", "other",
    )  # fmt: skip
    dear_path = Settings(surfaces={"path": Surface(damage_currency=1e6)})
    assert dearest_first(dear_path)[0] == "path"


def test_nothing_above_gives_no_rows_and_nothing_is_written_to() -> None:
    assert shares([]) == {}
    layer, surfaces = layer_of(ONE), table_of("surfaces", [surface("a", "road", 0, 0, 9, 9)])
    before = (layer.copy(), surfaces.copy())
    streets = table_of("streets", [])
    above_pipes(layer, streets, surfaces, settings=Settings())
    assert layer.equals(before[0])
    assert surfaces.equals(before[1])
    assert above_pipes(layer.iloc[:0], streets, surfaces, settings=Settings()).empty
