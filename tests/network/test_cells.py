from __future__ import annotations

from collections.abc import Callable

import geopandas as gpd
import pandas as pd
from shapely.geometry import Point, box

from district.network import build_network
from district.network.cells import connected_parts, zone_of_points
from district.results import Inputs
from district.settings import Settings


def test_the_smallest_polygon_labels_a_point() -> None:
    zones = gpd.GeoDataFrame(
        {"zone_id": ["inner", "outer"]}, geometry=[box(4, 4, 6, 6), box(0, 0, 10, 10)]
    )
    points = gpd.GeoSeries([Point(5, 5), Point(1, 1), Point(20, 20)])
    assert list(zone_of_points(points, zones)) == ["inner", "outer", ""]


def test_parts_ignore_meters_and_valves(inputs: Inputs) -> None:
    network = build_network(inputs, settings=Settings())
    assert set(connected_parts(network.pipes, network.nodes)) == {0}


def test_an_outlet_may_lead_out_of_all_zones(with_layers: Callable[..., Inputs]) -> None:
    layers = with_layers()
    meters = layers.meters.copy()
    out = meters["meter_id"] == "M2"
    meters.loc[out, ["role", "downstream"]] = ["outlet", None]
    only_a = layers.zones[layers.zones["zone_id"] == "A"]
    network = build_network(with_layers(meters=meters, zones=only_a), settings=Settings())
    sides = network.boundaries.set_index("meter_id")[["upstream_cell_id", "downstream_cell_id"]]
    assert sides.loc["M2"].tolist() == ["A", ""]
    assert network.findings == ()


def test_an_outlet_between_two_zones_must_say_where_to(
    with_layers: Callable[..., Inputs],
) -> None:
    meters = with_layers().meters.copy()
    meters.loc[meters["meter_id"] == "M2", ["role", "downstream"]] = ["outlet", None]
    network = build_network(with_layers(meters=meters), settings=Settings())
    assert network.findings[0].sentence() == (
        "meters, meter M2, column downstream: got nothing, expected the zone positive flow goes "
        "to, as 2 of its sides are zones. Fill it in; only an outlet with one zone beside it may "
        "leave it empty."
    )


def test_a_zone_s_name_never_goes_to_another_s_stray_piece(
    with_layers: Callable[..., Inputs],
) -> None:
    layers = with_layers()
    zones = layers.zones.assign(zone_id=layers.zones["zone_id"].replace({"B": "A/2"}))
    meters = layers.meters.assign(downstream=layers.meters["downstream"].replace({"B": "A/2"}))
    # A shut valve on A3 parts a piece of zone A from the rest.
    valves = layers.valves
    row = valves.iloc[[0]].assign(valve_id="V9", state="shut")
    row = row.set_geometry(gpd.GeoSeries([_on(layers, "A3")], index=row.index, crs=valves.crs))
    both = gpd.GeoDataFrame(pd.concat([valves, row], ignore_index=True), crs=valves.crs)
    network = build_network(
        with_layers(zones=zones, meters=meters, valves=both), settings=Settings()
    )
    assert list(network.cells.index) == ["A", "A/2", "A/3", "supply S"]
    assert network.cells["zone_ids"].to_dict() == {
        "A": ("A",), "A/2": ("A/2",), "A/3": (), "supply S": (),
    }  # fmt: skip


def _on(layers: Inputs, pipe_id: str) -> Point:
    pipe = layers.pipes.set_index("pipe_id").geometry[pipe_id]
    return pipe.interpolate(0.3, normalized=True)
