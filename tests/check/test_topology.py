from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields, replace
from typing import Any

import geopandas as gpd
import pandas as pd
import pytest
from hypothesis import HealthCheck, given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Point

from district.check import check_network
from district.check.topology import pipes_with_source
from district.check.wording import EACH
from district.errors import Finding
from district.network import build_network
from district.results import Inputs
from district.settings import Settings
from tests.examples import examples

Change = Callable[..., Inputs]
Says = Callable[..., list[str]]
Checked = Callable[[Inputs], tuple[Finding, ...]]


def test_a_clean_district_gives_no_finding(inputs: Inputs, checked: Checked) -> None:
    assert checked(inputs) == ()


def test_zone_meter_on_no_pipe(inputs: Inputs, edit: Change, checked: Checked, says: Says) -> None:
    broken = edit(inputs, "meters", "M2", geometry=Point(300, 3.24))
    assert says(checked(broken))[0] == (
        "error: meters.geojson, meter M2, column geometry: got a point 3.2 m from the nearest "
        "pipe, A2, expected a point within 0.5 m of a pipe in use of pipes.geojson. Move it onto "
        "its pipe, or raise snap_tolerance_m in district.toml."
    )


def test_a_meter_on_another_continent_gets_another_mend(
    inputs: Inputs, edit: Change, checked: Checked, says: Says
) -> None:
    broken = edit(inputs, "meters", "M2", geometry=Point(300, 5_230_000))
    assert says(checked(broken))[0] == (
        "error: meters.geojson, meter M2, column geometry: got a point 5\u00a0200 km from the "
        "nearest pipe, A3, expected a point within 0.5 m of a pipe in use of pipes.geojson. "
        "Correct the coordinate reference system of the file, or the order of its coordinates."
    )


def test_valve_on_no_pipe(inputs: Inputs, edit: Change, checked: Checked, says: Says) -> None:
    broken = edit(inputs, "valves", "V2", geometry=Point(205, -1.5))
    assert says(checked(broken)) == [
        "warning: valves.geojson, valve V2, column geometry: got a point 1.5 m from the nearest "
        "pipe, A2, expected a point within 0.5 m of a pipe in use of pipes.geojson. Move it onto "
        "its pipe, or raise snap_tolerance_m in district.toml; until then the valve is left out."
    ]


def test_building_meters_need_not_stand_on_a_pipe(
    inputs: Inputs, edit: Change, checked: Checked
) -> None:
    assert checked(edit(inputs, "meters", "K1", geometry=Point(250, 40))) == ()


def test_a_valve_that_shuts_a_building_need_not_stand_on_a_main(
    inputs: Inputs, edit: Change, checked: Checked
) -> None:
    edited = edit(
        inputs, "valves", "V2", geometry=Point(205, -1.5), kind="automatic_shutoff", building_id="B"
    )
    assert not [f for f in checked(edited) if "V2" in f.place]


def test_many_valves_on_no_pipe_end_in_one_sentence(
    inputs: Inputs, add: Change, checked: Checked, says: Says
) -> None:
    rows = [
        {"valve_id": f"X{n}", "geometry": Point(200 + n, -9), "state": "open"} for n in range(20)
    ]
    found = says(checked(add(inputs, "valves", *rows)))
    assert len(found) == EACH + 1
    assert found[-1] == (
        "warning: valves.geojson, valves X12, X13, X14 and 5 more, column geometry: got 8 more "
        "points on no pipe, expected a point within 0.5 m of a pipe in use of pipes.geojson. Move "
        "them onto their pipes."
    )


def test_part_without_source(inputs: Inputs, add: Change, checked: Checked, says: Says) -> None:
    broken = add(
        inputs,
        "pipes",
        {"pipe_id": "B10", "geometry": LineString([(450, 60), (500, 60)])},
        {"pipe_id": "B9", "geometry": LineString([(500, 60), (500, 100)])},
    )
    assert says(checked(broken))[0] == (
        "warning: pipes.geojson, pipes B9 and B10: got a part of 2 pipes, 0.09 km (area QUAY/2), "
        "joined to no source, expected every pipe in use joined to a source, if only through "
        "meters and shut valves. Join it to the network on the map, add its source, or set status "
        "to abandoned if it carries no water."
    )


def test_a_part_behind_a_shut_valve_is_joined(inputs: Inputs, edit: Change) -> None:
    shut = edit(inputs, "valves", "V2", state="shut")
    network = build_network(shut, settings=Settings())
    assert pipes_with_source(network).all()


def test_the_largest_part_without_source_is_an_error(
    inputs: Inputs, add: Change, drop: Change, checked: Checked, says: Says
) -> None:
    broken = drop(inputs, "pipes", "T1")
    broken = add(broken, "pipes", {"pipe_id": "T1", "geometry": LineString([(0, 0), (150, 0)])})
    assert says(checked(broken))[0] == (
        "error: pipes.geojson, pipes A2, A3, B2 and B3: got a part of 4 pipes, 0.80 km (areas "
        "MILL and QUAY), joined to no source, expected every pipe in use joined to a source, if "
        "only through meters and shut valves. Join it to the network on the map, add its source, "
        "or set status to abandoned if it carries no water."
    )


def test_many_small_parts_end_in_one_sentence(
    inputs: Inputs, add: Change, checked: Checked, says: Says
) -> None:
    rows = [
        {"pipe_id": f"X{n}", "geometry": LineString([(650 + 20 * n, 0), (650 + 20 * n, 10 + n)])}
        for n in range(20)
    ]
    found = [line for line in says(checked(add(inputs, "pipes", *rows))) if "source" in line]
    assert len(found) == EACH + 1
    assert found[0].startswith("warning: pipes.geojson, pipe X19: got a part of 1 pipe, 0.03 km")
    assert found[-1].startswith(
        "warning: pipes.geojson, pipes X0, X1, X2 and 5 more: got 8 more parts, 0.11 km, joined "
        "to no source"
    )


def test_no_source_at_all(inputs: Inputs, drop: Change, checked: Checked, says: Says) -> None:
    assert says(checked(drop(inputs, "sources", "S")))[0] == (
        "error: sources.geojson: got no source, expected at least one point where water enters "
        "the network. Add the reservoirs, wells and bulk supplies."
    )


def test_source_far_from_every_pipe(
    inputs: Inputs, add: Change, checked: Checked, says: Says
) -> None:
    broken = add(inputs, "sources", {"source_id": "WELL", "geometry": Point(0, 900)})
    assert says(checked(broken)) == [
        "warning: sources.geojson, source WELL, column geometry: got a point farther than 60 m "
        "from every pipe in use, expected a point on the pipe it feeds. Move it onto its pipe, or "
        "add the missing main."
    ]


def test_the_only_source_far_from_every_pipe_is_an_error(
    inputs: Inputs, edit: Change, checked: Checked
) -> None:
    found = checked(edit(inputs, "sources", "S", geometry=Point(0, 900)))
    assert (found[0].severity, found[0].place) == ("error", "source S")


def test_what_the_building_found_is_not_repeated(
    inputs: Inputs, edit: Change, settings: Settings
) -> None:
    broken = edit(inputs, "meters", "M2", downstream="QUAI")
    network = build_network(broken, settings=settings)
    assert len(network.findings) == 1
    assert check_network(network, broken, settings=settings) == ()


def test_no_pipes_at_all(inputs: Inputs, checked: Checked) -> None:
    broken = replace(inputs, pipes=inputs.pipes.assign(status="abandoned"))
    assert [f.source for f in checked(broken)] == ["sources.geojson"]


@pytest.fixture
def damaged(inputs: Inputs, add: Change, edit: Change) -> Inputs:
    broken = add(
        inputs,
        "pipes",
        {"pipe_id": "X1", "geometry": LineString([(500, 1.7), (500, 60)])},
        {"pipe_id": "X2", "geometry": LineString([(200, 50), (150, 50), (50, 50)])},
        {"pipe_id": "X3", "geometry": LineString([(250, 0), (250, -40), (450, -40)])},
        {"pipe_id": "X4", "geometry": LineString([(450, -44), (480, -44)])},
    )
    broken = edit(broken, "valves", "V2", geometry=Point(205, -1.5))
    users = [{"connection_id": f"D{n}", "geometry": Point(390, -38)} for n in range(7)]
    return add(broken, "connections", *users, {"connection_id": "D7", "geometry": Point(60, 52)})


def _shuffled(inputs: Inputs, seed: int) -> Inputs:
    tables = {f.name: getattr(inputs, f.name) for f in fields(inputs)}
    return replace(
        inputs,
        **{
            name: table.sample(frac=1, random_state=seed).reset_index(drop=True)
            for name, table in tables.items()
            if isinstance(table, pd.DataFrame)
        },
    )


@hypothesis_settings(
    deadline=None,
    max_examples=examples(6),
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(seed=st.integers(0, 2**32 - 1), turned=st.sets(st.integers(0, 8)))
def test_the_order_of_rows_and_the_direction_of_pipes_change_nothing(
    seed: int, turned: set[int], damaged: Inputs, checked: Checked
) -> None:
    found = checked(damaged)
    assert len(found) >= 7
    shuffled = _shuffled(damaged, seed)
    lines = [g.reverse() if i in turned else g for i, g in enumerate(shuffled.pipes.geometry)]
    pipes = shuffled.pipes.set_geometry(gpd.GeoSeries(lines, crs=shuffled.pipes.crs))
    assert checked(replace(shuffled, pipes=pipes)) == found


def test_neither_inputs_nor_network_are_changed(damaged: Inputs, settings: Settings) -> None:
    network = build_network(damaged, settings=settings)
    before = [(_tables(x), _tables(x, copy=True)) for x in (damaged, network)]
    check_network(network, damaged, settings=settings)
    for now, then in before:
        for name, table in then.items():
            pd.testing.assert_frame_equal(pd.DataFrame(now[name]), pd.DataFrame(table))


def _tables(of: Any, *, copy: bool = False) -> dict[str, pd.DataFrame]:
    found = {f.name: getattr(of, f.name) for f in fields(of)}
    return {
        n: t.copy(deep=True) if copy else t for n, t in found.items() if isinstance(t, pd.DataFrame)
    }
