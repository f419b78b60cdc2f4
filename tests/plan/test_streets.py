from __future__ import annotations

from typing import Any

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.affinity import translate
from shapely.geometry import LineString

from district.plan.streets import pipe_streets, street_labels
from district.settings import Renew, Settings
from tests.plan.cost_scene import layer_of, table_of

NEAR = Settings(renew=Renew(street_near_m=25.0))


def pipe(pipe_id: str, *places: tuple[float, float], street: str | None = None) -> dict[str, Any]:
    return {"pipe_id": pipe_id, "geometry": LineString(places), "street": street}


def street(street_id: str, *places: tuple[float, float], name: str | None = None) -> dict[str, Any]:
    return {"street_id": street_id, "geometry": LineString(places), "name": name}


def named(pipes: list[dict[str, Any]], streets: list[dict[str, Any]]) -> list[str]:
    found = pipe_streets(layer_of(pipes), table_of("streets", streets), settings=NEAR)
    assert found.index.tolist() == [p["pipe_id"] for p in pipes]
    return found.tolist()


def test_the_own_column_counts_first() -> None:
    own = pipe("P1", (0, 0), (100, 0), street=" Mill Lane ")
    assert named([own], [street("S1", (0, 1), (100, 1))]) == ["Mill Lane"]


def test_the_nearest_street_that_most_of_it_runs_along() -> None:
    pipes = [
        pipe("P1", (0, 0), (100, 0)),
        pipe("P2", (0, 20), (100, 20)),
        pipe("P3", (0, 60), (100, 60)),
        # A third of it along S1, the rest away from it.
        pipe("P4", (100, 0), (150, 0), (150, 100)),
    ]
    streets = [street("S1", (0, 2), (150, 2)), street("S2", (0, 18), (100, 18), name="High Row")]
    assert named(pipes, streets) == ["S1", "High Row", "", ""]


def test_lines_of_one_name_are_one_street() -> None:
    halves = [
        street("S1", (0, 5), (49, 5), name="High Row"),
        street("S2", (49, 5), (99, 5), name="High Row"),
    ]
    assert named([pipe("P1", (0, 0), (90, 0))], halves) == ["High Row"]
    assert named([pipe("P1", (-150, 0), (200, 0))], halves) == [""]


def test_of_streets_as_near_the_first_by_name() -> None:
    two = [street("S10", (0, 5), (90, 5)), street("S2", (0, -5), (90, -5))]
    assert named([pipe("P1", (0, 0), (90, 0))], two) == ["S2"]
    assert named([pipe("P1", (0, 0), (90, 0))], two[::-1]) == ["S2"]


def test_without_streets_or_pipes() -> None:
    assert named([pipe("P1", (0, 0), (90, 0))], []) == [""]
    assert named([], [street("S1", (0, 5), (90, 5))]) == []


def test_labels() -> None:
    streets = [street("S1", (0, 0), (1, 0)), street("S2", (0, 0), (1, 0), name="Low Row")]
    assert street_labels(table_of("streets", streets)) == ["S1", "Low Row"]


@given(seed=st.integers(0, 10_000))
@settings(max_examples=15, deadline=None)
def test_order_direction_and_place_change_nothing(seed: int) -> None:
    random = np.random.default_rng(seed)

    def lines(count: int) -> list[LineString]:
        return [
            LineString(np.cumsum([random.uniform(0, 200, 2), random.uniform(-90, 90, 2)], axis=0))
            for _ in range(count)
        ]

    pipes = [{"pipe_id": f"P{n}", "geometry": line} for n, line in enumerate(lines(12))]
    streets = [
        {"street_id": f"S{n}", "geometry": line, "name": f"N{n % 5}" if n % 3 else None}
        for n, line in enumerate(lines(9))
    ]
    layer, ways = layer_of(pipes), table_of("streets", streets)
    before = (layer.copy(), ways.copy())
    found = pipe_streets(layer, ways, settings=NEAR)
    turned = [{**s, "geometry": s["geometry"].reverse()} for s in streets[::-1]]
    mixed = [{**p, "geometry": translate(p["geometry"], 0, 0).reverse()} for p in pipes[::-1]]
    again = pipe_streets(layer_of(mixed), table_of("streets", turned), settings=NEAR)
    assert again.reindex(found.index).equals(found)
    assert layer.equals(before[0])
    assert ways.equals(before[1])
