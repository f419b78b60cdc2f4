"""Folders whose files are each sound but do not agree: what is wrong, and the sentence for it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from tests.bad_inputs.breakers import (
    Breaker,
    added,
    both,
    drawn,
    features,
    more,
    replaced,
    value,
)
from tests.bad_inputs.cases import Case


def _moved(layer: str, at: int, place: tuple[float, float]) -> Breaker:
    return drawn(layer, at, "Point", place)


def _pipe(*places: tuple[float, float]) -> Breaker:
    columns = {"pipe_id": "P7", "material": "pvc", "diameter_mm": 100}
    return added("pipes", "LineString", places, **columns)


def _outline(zone_id: str, west: float, east: float) -> Breaker:
    south, north = 46.9995, 47.0015
    ring = [(west, south), (east, south), (east, north), (west, north), (west, south)]
    return added("zones", "Polygon", [ring], zone_id=zone_id)


def _removed(layer: str, at: int) -> Breaker:
    return features(layer, lambda found: found.pop(at))


def _rows(
    start: str, written: Callable[[str, str], list[str]], keep: tuple[str, ...] = ()
) -> Breaker:
    """Rows of the zone meters that begin so are written anew, but for those at the times kept."""

    def write(folder: Path) -> None:
        path = folder / "readings/zones.csv"
        rows: list[str] = []
        for row in path.read_text().splitlines():
            _, time, value = row.split(",")
            changed = row.startswith(start) and not time.endswith(keep or ("never",))
            rows += written(time, value) if changed else [row]
        path.write_text("\n".join(rows) + "\n")

    return write


CASES: tuple[Case, ...] = (
    Case(
        "unknown zone downstream",
        value("meters", 1, "downstream", "C"),
        'meters.geojson, meter MB, column downstream: got "C", expected a zone_id of '
        "zones.geojson: A or B. Correct the value, or add the zone to zones.geojson.",
    ),
    Case(
        "no zone downstream",
        value("meters", 1, "downstream", None),
        "meters.geojson, meter MB, column downstream: got nothing, expected a zone_id"
        " of zones.geojson, the zone on the side positive flow goes to. Fill it in; "
        "without it the flow cannot be given to a zone.",
    ),
    Case(
        "unknown parent",
        value("zones", 1, "parent_id", "C"),
        'zones.geojson, zone B, column parent_id: got "C", expected a zone_id of '
        "zones.geojson: A or B. Correct the value, or leave it empty if the zone is "
        "fed straight from a source.",
    ),
    Case(
        "ring of parents",
        value("zones", 0, "parent_id", "B"),
        "zones.geojson, zones A and B, column parent_id: got a ring: A is fed through"
        " B, B is fed through A, expected a chain of zones that ends at one without a"
        " parent. Leave parent_id empty for the zone that the water reaches first.",
    ),
    Case(
        "no inlet meter",
        value("meters", 0, "role", "transfer"),
        "meters.geojson, column role: got no inlet meter, expected at least one meter"
        " with role inlet, where water enters a zone. Add the inlet meters, or "
        "correct their role; no zone can be balanced without one.",
    ),
    Case(
        "connection with an unknown meter",
        value("connections", 1, "meter_id", "CM2"),
        'connections.geojson, connection C2, column meter_id: got "CM2", expected a '
        "meter_id of meters.geojson: CM1. Correct the value, or add the meter to "
        "meters.geojson; until then its use is taken from the allowance.",
    ),
    Case(
        "connection on a zone meter",
        value("connections", 1, "meter_id", "MA"),
        "meters.geojson, meter MA, column role: got inlet, and named by connection "
        "C2, expected a meter either on a main between zones or at a connection. "
        "Correct its role, or the meter_id of the connection.",
    ),
    Case(
        "unknown use class",
        value("connections", 1, "use_class", "brewery"),
        'connections.geojson, connection C2, column use_class: got "brewery", '
        "expected a class in section allowances of district.toml: commercial or "
        "household. Correct the class, or add it to that section; until then the "
        "household allowance is used.",
    ),
    Case(
        "unbilled class that nobody is of",
        more('[annual]\nunbilled_classes = ["church"]\n'),
        'district.toml, section annual, column unbilled_classes: got "church", expected a '
        "use_class of connections.geojson: household. Correct the value; until then no use "
        "counts as unbilled by it.",
    ),
    Case(
        "exceptional use in an unknown zone",
        more('[[exceptional_use]]\nzone_id = "C"\nflow_l_s = 0.5\n'),
        'district.toml, section exceptional_use, column zone_id: got "C", expected a '
        "zone_id of zones.geojson: A or B. Correct the value.",
    ),
    Case(
        "work at an unknown place",
        replaced("works.csv", ",A,", ",C,"),
        'works.csv, row of 2025-03-11, column place_id: got "C", expected a zone_id, '
        "pipe_id, meter_id, valve_id or connection_id of the layers (the closest is C4). Correct "
        "the value; until then this work explains no change of flow.",
    ),
    Case(
        "work that ends before it starts",
        replaced("works.csv", "11 11:00", "10 11:00"),
        "works.csv, row of 2025-03-11 at A, column end: got 2025-03-10 11:00, before "
        "its start 2025-03-11 10:00, expected a time after the start. Correct one of "
        "the two, or leave the end empty for a work of one day.",
    ),
    Case(
        "break on an unknown pipe",
        replaced("breaks.csv", "P3", "P33"),
        'breaks.csv, row of 2019-02-03, column pipe_id: got "P33", expected a pipe_id'
        " of pipes.geojson: P1, P2, P3, P4, P5 or P6. Correct the value; until then "
        "this break counts for no pipe.",
    ),
    Case(
        "logger without elevation",
        value("sensors", 0, "elevation_m", None),
        "sensors.geojson, sensor PL1, column elevation_m: got nothing, expected the "
        "level of the gauge in m, as every pressure logger needs. Fill it in; until "
        "then its pressure is used as it stands, not brought to the level of the "
        "zone.",
    ),
    Case(
        "meter on no pipe",
        _moved("meters", 1, (7.003, 47.0001)),
        "meters.geojson, meter MB, column geometry: got a point 11.1 m from the "
        "nearest pipe, P5, expected a point within 0.5 m of a pipe in use of "
        "pipes.geojson. Move it onto its pipe, or raise snap_tolerance_m in "
        "district.toml.",
    ),
    Case(
        "valve on no pipe",
        _moved("valves", 0, (7.0021, 47.0005)),
        "valves.geojson, valve V1, column geometry: got a point 7.6 m from the "
        "nearest pipe, P3, expected a point within 0.5 m of a pipe in use of "
        "pipes.geojson. Move it onto its pipe, or raise snap_tolerance_m in "
        "district.toml; until then the valve is left out.",
    ),
    Case(
        "source on no pipe",
        _moved("sources", 0, (6.99, 47.0)),
        "sources.geojson, source S1, column geometry: got a point farther than 60 m "
        "from every pipe in use, expected a point on the pipe it feeds. Move it onto "
        "its pipe, or add the missing main.",
    ),
    Case(
        "part without source",
        _pipe((7.0032, 47.0005), (7.0036, 47.0005)),
        "pipes.geojson, pipe P7: got a part of 1 pipe, 0.03 km (area B/2), joined to "
        "no source, expected every pipe in use joined to a source, if only through "
        "meters and shut valves. Join it to the network on the map, add its source, "
        "or set status to abandoned if it carries no water.",
    ),
    Case(
        "end that misses its pipe",
        _pipe((7.0035, 47.00002), (7.0035, 47.001)),
        "pipes.geojson, pipe P7, column geometry: got an end that touches nothing, "
        "2.2 m from pipe P5, expected ends that meet within 0.5 m, or a true dead "
        "end. Join the two on the map, unless the pipe really ends there.",
    ),
    Case(
        "pipe over a zone's edge",
        _pipe((7.002, 47.001), (7.004, 47.001)),
        "pipes.geojson, pipe P7, column geometry: got a pipe that crosses from zone A"
        " to zone B with neither meter nor shut valve, expected a zone meter or a "
        "shut valve where a pipe leaves a zone. Add the meter or the shut valve, or "
        "correct the zone's outline; the balance follows the pipe.",
    ),
    Case(
        "two zones with nothing between",
        _removed("meters", 1),
        "zones.geojson, zones A and B: got pipes joined to one area, with no meter "
        "and no shut valve between the zones, expected a zone meter or a shut valve "
        "on every pipe between two zones. Add the meter or mark the valve shut; until"
        " then they are balanced together as A+B.",
    ),
    Case(
        "source without a meter",
        both(value("meters", 1, "role", "inlet"), _removed("meters", 0)),
        "sources.geojson, source S1: got no meter between it and zone A, expected a "
        "zone meter on every way from a source into a zone. Add the inlet meter, or "
        "mark the boundary valve shut; until then the zone has no balance.",
    ),
    Case(
        "zone without pipes",
        _outline("C", 7.006, 7.008),
        "zones.geojson, zone C, column geometry: got an outline with no pipe in use "
        "inside, expected an outline around the zone's pipes. Correct the outline, or"
        " remove the zone.",
    ),
    Case(
        "connection drawn in another zone",
        both(
            _pipe((7.002, 47.001), (7.0035, 47.0008)),
            _moved("connections", 2, (7.0034, 47.0008)),
        ),
        "connections.geojson, connection C3, column geometry: got 1 drawn in zone B, "
        "but on a pipe of A, expected each in the zone of the pipe that serves it. "
        "Correct the zone's outline, or the pipe or the state of a valve there; the "
        "balance follows the pipe.",
    ),
    Case(
        "zone that water only leaves",
        value("meters", 1, "downstream", "A"),
        "meters.geojson, area B: got 2 connections, and only meters through which "
        "water leaves: MB, expected at least one zone meter that lets water in. "
        "Correct downstream of these meters, or add the meter that lets water in.",
    ),
    Case(
        "building no connection names",
        value("connections", 0, "meter_id", None),
        "meters.geojson, meter CM1: got customer, but no connection names it, "
        "expected a connection with this meter_id. Fill in meter_id in "
        "connections.geojson; until then the use it measures is not subtracted from "
        "the inflow.",
    ),
    Case(
        "meter for two connections",
        value("connections", 1, "meter_id", "CM1"),
        'connections.geojson, connections C1 and C2, column meter_id: got "CM1" for '
        "all 2, expected a meter of their own, unless one measures them together. "
        "Check that this meter measures them all.",
    ),
    Case(
        "no overlap in time",
        replaced("readings/others.csv", "2025-", "2024-", count=-1),
        "readings/others.csv and readings/zones.csv: got inflow from 2025-03-09 to "
        "2025-03-12, but consumption from 2024-03-10 to 2024-03-12, expected days on "
        "which both zone meters and building or customer meters were read. Add the "
        "readings of the missing period; check the date format and the year of both.",
    ),
    Case(
        "short record",
        lambda _: None,
        "readings/zones.csv, meter MA: got a record of 3 nights,"
        " expected at least 14 nights, so that their spread can be told. Add older "
        "readings if there are any, and treat the figures as first ones.",
    ),
    Case(
        "inlet meter with the wrong sign",
        _rows("MA,", lambda time, value: [f"MA,{time},-{value}"]),
        "readings/zones.csv, zone A: got 210 m³ a day more going out than coming in, "
        "expected more coming in than going out. Check downstream and the sign of the "
        "readings of meters MA and MB.",
    ),
    Case(
        "inlet meter in litres an hour",
        _rows("MA,", lambda time, value: [f"MA,{time},{float(value) * 3600:.0f}"]),
        "readings/zones.csv, meter MA: got a usual flow of 7\xa0000 L/s, which is 570 m/s in "
        "its pipe of 125 mm, expected less than 3 m/s. Check reading_unit or "
        "litres_per_pulse of the meter, then the diameter of the pipe.",
    ),
    Case(
        "two meters at one point",
        both(
            _moved("meters", 0, (7.003, 47.0)),
            value("meters", 0, "downstream", "B"),
        ),
        "meters.geojson, zone meter MB, column geometry: got the point at which meter MA "
        "stands, expected a point of its own, as only one meter can part the pipe there. "
        "Draw each meter on the pipe it measures, or remove the one that is no longer read.",
    ),
    Case(
        "logger that lost its clock",
        _rows("MB,2025-03-11 07:00", lambda _, value: [f"MB,2000-01-01 00:00,{value}"]),
        "readings/zones.csv, row 65: got MB on 2000-01-01, expected a time near the other "
        "readings of the device. Correct the time, or set the logger's clock; the reading "
        "is left out.",
    ),
    Case(
        "readings every six hours",
        _rows("M", lambda *_: [], keep=("00:00", "06:00", "12:00", "18:00")),
        "readings/zones.csv: got no night on which every meter of a zone was read, "
        "expected at least one zone whose meters were all read, hourly or more often, from "
        "02:00 to 04:00. Add such readings, first of meters MA and MB around zone A.",
    ),
)
