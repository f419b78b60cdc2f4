"""GeoJSON features of each layer: geometry in degrees, tooltip and popup ready made."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import geopandas as gpd
import pandas as pd
from shapely import set_precision
from shapely.geometry import Point, mapping

from district.render import palette, popups, symbols
from district.render.charts import chart_words, night_chart
from district.render.disagreeing import checks_said
from district.render.explain import SENSOR_WORDS, STILL_WORDS
from district.render.named_places import verdict_said
from district.render.placing import label_spot
from district.render.searching import found_in_zones
from district.render.shifts import accounted_for, shifted_zones
from district.render.shutting import advice_of_valves
from district.render.since import events_of_places
from district.render.text import escape
from district.render.valve_words import failures_of_valves
from district.results import DistrictReport
from district.schema.event_tables import SHUTOFF_CAUTION
from district.words import EMPTY, missing, rounded, true, unit

Feature = dict[str, Any]
# 1e-6 degree is about 0.1 m: finer than any pipe is known, and a third smaller on disk.
_GRID = 1e-6


def degrees(layer: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """The layer in WGS84 on a 0.1 m grid, rows without geometry left out."""
    placed = layer[layer.geometry.notna() & ~layer.geometry.is_empty]
    if placed.empty:
        return placed
    turned = placed.to_crs("EPSG:4326")
    return turned.set_geometry(set_precision(turned.geometry.array, _GRID, mode="pointwise"))


def zone_features(report: DistrictReport) -> list[Feature]:
    """Zone outlines with figures and chart, and their labels."""
    summary = popups.by_id(report.balance.zones, "cell_id")
    features = []
    spots = _label_spots(report)
    shifted, apparent = shifted_zones(report.events.events), accounted_for(report)
    searched, told = found_in_zones(report), events_of_places(report)
    for at, zone in degrees(report.layers.zones).iterrows():
        key = str(zone["cell_id"])
        row = summary.get(key)
        title = popups.zone_title(zone if row is None else row)
        if row is None:
            body = popups.card(f"Zone {title}", [("Balance", "no inflow meter read in this zone")])
            said, grade = "no balance", -1
        else:
            nights = report.balance.nights[report.balance.nights["cell_id"] == key]
            events = report.events.events[report.events.events["cell_id"] == key]
            seven = report.balance.seven_nights
            seven = seven[seven["cell_id"] == key]
            chart = night_chart(nights, events, seven=seven) if len(nights) else ""
            body = popups.zone_card(
                row,
                chart,
                chart_words(nights, title),
                shifted=shifted.get(key, ""),
                apparent=key in apparent,
                searched=searched.get(key, []),
                events=told.get(("cell", key), ()),
            )
            said = f"excess {popups.estimate(row, 'excess_l_s')}"
            grade = palette.EXCESS.place(row.get("excess_l_s"))
        tip = f"{escape(title)}: {escape(said)}"
        features.append(feature(zone, {"role": "zone", "grade": grade, "tip": tip, "popup": body}))
        name = key if missing(zone["name"]) else zone["name"]
        features.append(_label(spots.loc[at], name, row))
    # Outlines first: labels stand over them.
    return sorted(features, key=lambda f: f["properties"]["role"] != "zone")


def meter_features(report: DistrictReport) -> Iterator[Feature]:
    """Every meter; role in `symbol`. A building's with what its readings show, and its events."""
    names, checked = zone_names(report), checks_said(report)
    shown = popups.by_id(report.events.building_checks, "device_id")
    events = events_of_places(report)
    for _, row in degrees(report.layers.meters).iterrows():
        key = str(row["meter_id"])
        check = shown.get(key)
        body = popups.meter_card(
            row,
            names,
            checked=checked.get(key, ""),
            stands="" if check is None else verdict_said(check, STILL_WORDS),
            building="" if check is None else check["building_id"],
            events=events.get(("building", key), ()),
        )
        yield point_feature(row, "Meter", key, symbols.meter_symbol(row.get("role")), body)


def valve_features(report: DistrictReport) -> Iterator[Feature]:
    """Every valve; kind, state and operability in `symbol`. One that shuts a building by itself
    with what it should be set to, and what must be settled first."""
    advised = advice_of_valves(report)
    failing = failures_of_valves(report.isolation.valve_losses)
    for _, row in degrees(report.layers.valves).iterrows():
        key = str(row["valve_id"])
        body = popups.valve_card(
            row, advice=advised.get(key, ("", SHUTOFF_CAUTION)), fails=failing.get(key, "")
        )
        yield point_feature(row, "Valve", key, _valve_symbol(row), body)


def sensor_features(report: DistrictReport) -> Iterator[Feature]:
    """Every logger and sensor; pressure loggers with how the model explains them, those that give
    alarms with how they behave, and their events."""
    names = zone_names(report)
    checks = popups.by_id(report.location.logger_checks, "sensor_id")
    behaviour = popups.by_id(report.events.sensor_checks, "sensor_id")
    events = events_of_places(report)
    for _, row in degrees(report.layers.sensors).iterrows():
        key = str(row["sensor_id"])
        said = "Tank" if row.get("kind") == "tank_level" else "Sensor"
        check, behaves = checks.get(key), behaviour.get(key)
        used = check is None or true(check["used"])
        symbol = symbols.sensor_symbol(row.get("kind"), used=used)
        body = popups.sensor_card(
            row,
            names,
            check=check,
            behaves="" if behaves is None else verdict_said(behaves, SENSOR_WORDS),
            events=events.get(("sensor", key), ()),
        )
        yield point_feature(row, said, key, symbol, body)


def source_features(report: DistrictReport) -> Iterator[Feature]:
    """Sources and tanks."""
    for _, row in degrees(report.layers.sources).iterrows():
        yield point_feature(row, "Source", row["source_id"], "source", popups.source_card(row))


def connection_features(report: DistrictReport) -> Iterator[Feature]:
    """Service connections as dots; critical users larger and dark."""
    for _, row in degrees(report.layers.connections).iterrows():
        symbol = "critical" if true(row.get("critical")) else "dot"
        yield point_feature(
            row, "Connection", row["connection_id"], symbol, popups.connection_card(row)
        )


def zone_names(report: DistrictReport) -> dict[str, str]:
    """Zone id -> what people call it."""
    rows = pd.concat(
        [report.layers.zones[["cell_id", "name"]], report.balance.zones[["cell_id", "name"]]]
    )
    return popups.zone_titles(rows)


def collection(features: Any, keep: Callable[[Feature], bool] | None = None) -> dict[str, Any]:
    """Features as a collection, numbered so that no id of the user's stands in the script."""
    kept = [f for f in features if keep is None or keep(f)]
    return {
        "type": "FeatureCollection",
        "features": [{**feature, "id": str(n)} for n, feature in enumerate(kept)],
    }


def feature(row: Any, properties: dict[str, Any]) -> Feature:
    """A row's geometry with properties: `tip` and `popup` are finished HTML."""
    shown = {"tip": "", "popup": "", **properties}
    return {"type": "Feature", "geometry": mapping(row["geometry"]), "properties": shown}


def point_feature(row: Any, kind: str, key: object, symbol: str, body: str) -> Feature:
    """A row's place as a symbol, its tip what kind it is and its key."""
    return feature(row, {"symbol": symbol, "tip": f"{kind} {escape(key)}", "popup": body})


def _valve_symbol(row: Any) -> str:
    automatic = row.get("kind") == popups.AUTOMATIC
    return symbols.valve_symbol(row.get("state"), row.get("operable"), automatic=automatic)


def _label_spots(report: DistrictReport) -> gpd.GeoSeries:
    """A point in degrees for each zone's label, on the index of the zones."""
    given = report.layers
    # Open valves and building meters are hidden at first: a label may cover them.
    told = [_valve_symbol(row) != "valve_open" for _, row in given.valves.iterrows()]
    mains = [symbols.meter_symbol(role) == "zone_meter" for role in given.meters["role"]]
    found = report.location.likelihood
    walked = given.pipes["pipe_id"].isin(found["pipe_id"][found["in_set"].map(true).astype(bool)])
    shown = pd.concat(
        [
            given.meters.geometry[mains],
            given.sensors.geometry,
            given.valves.geometry[told],
            given.pipes.geometry[walked].interpolate(0.5, normalized=True),
        ]
    )
    points = [(p.x, p.y) for p in shown if p is not None and not p.is_empty]
    zones = given.zones[given.zones.geometry.notna() & ~given.zones.geometry.is_empty]
    placed = [Point(label_spot(area, points)) for area in zones.geometry]
    return gpd.GeoSeries(placed, index=zones.index, crs=zones.crs).to_crs("EPSG:4326")


def _label(spot: Point, name: object, row: Any) -> Feature:
    short = ""
    if row is not None:
        limits = (row.get("excess_l_s_low"), row.get("excess_l_s_high"))
        digits = rounded(row.get("excess_l_s"), *limits, "excess_l_s")[0]
        short = f"<br>{escape(digits)} {unit('excess_l_s')}" if digits != EMPTY else ""
    said = {"role": "label", "label": f"<b>{escape(name)}</b>{short}"}
    return {
        "type": "Feature",
        "geometry": mapping(Point(round(spot.x, 6), round(spot.y, 6))),
        "properties": {"tip": "", "popup": "", **said},
    }
