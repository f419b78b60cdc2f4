"""Tanks whose levels are read: what they need before their water can be counted."""

from __future__ import annotations

import pandas as pd

from district.check.wording import Files, file_of
from district.errors import Finding
from district.network import Network
from district.results import Inputs
from district.settings import Settings
from district.words import listed, natural, places, plural

_SAME_PLACE_M = 1.0
_INTERVAL_H = 1.0
_TOLERANCE_H = 0.001


def bare_tanks(inputs: Inputs) -> list[Finding]:
    """Tanks without a surface: their level tells no volume."""
    sensors = inputs.sensors
    is_bare = sensors["kind"].eq("tank_level") & sensors["surface_m2"].isna()
    # One that cannot be is told already.
    told = {f.place for f in inputs.findings if f.column == "surface_m2"}
    bare = [s for s in sensors.loc[is_bare, "sensor_id"].dropna() if f"sensor {s}" not in told]
    if not bare:
        return []
    return [
        Finding(
            "error",
            file_of(inputs, "sensors"),
            places("sensor", bare),
            "surface_m2",
            got="nothing",
            expected="the plan area of the water surface in m², as every tank level needs",
            remedy="Fill it in; it stands on the drawings of the tank, or is measured on the map",
        )
    ]


def tank_places(network: Network, inputs: Inputs, *, settings: Settings) -> list[Finding]:
    """Tanks on no pipe or in an area that is not balanced, and two sensors at one place."""
    sensors = network.sensors
    tanks = sensors[sensors["kind"] == "tank_level"]
    source = file_of(inputs, "sensors")
    reach_m = settings.locate.connection_snap_m
    off = tanks.index[tanks["cell_id"] == ""]
    found = [
        Finding(
            "warning",
            source,
            places("sensor", off),
            "geometry",
            got=f"{plural(len(off), 'point')} farther than {reach_m:g} m from every pipe in use",
            expected="each tank within reach of the pipe it stands on",
            remedy="Move it onto its pipe, or add the missing main; until then its level is not "
            "used, and what it stores looks like use or leakage",
        )
    ] * bool(len(off))
    with_source = set(network.cells.index[network.cells["has_source"].astype(bool)])
    beside = tanks.index[tanks["cell_id"].isin(with_source)]
    if len(beside):
        found.append(
            Finding(
                "note",
                source,
                places("sensor", beside),
                got="a tank in an area with a source, which no meter closes off",
                expected="a tank inside a zone all of whose inflow is metered",
                remedy="Nothing need be done if it stands before the zone meters; its level is "
                "not used",
            )
        )
    return [*found, *_twice(tanks, source)]


def _twice(tanks: pd.DataFrame, source: str) -> list[Finding]:
    points = tanks.geometry
    alike = {tuple(natural(points.index[points.distance(p) <= _SAME_PLACE_M])) for p in points}
    return [
        Finding(
            "warning",
            source,
            f"sensors {listed(names)}",
            "geometry",
            got=f"{len(names)} levels at one place",
            expected="one level sensor for each tank",
            remedy="Remove all but one if they show the same tank, whose water would count "
            f"{len(names)} times",
        )
        for names in sorted(alike)
        if len(names) > 1
    ]


def seldom_read(records: pd.DataFrame, network: Network, files: Files) -> list[Finding]:
    """Tanks whose level is read less often than hourly; `records` DEVICE_QUALITY by device_id."""
    sensors = network.sensors
    tanks = sensors.index[(sensors["kind"] == "tank_level") & (sensors["cell_id"] != "")]
    step_h = records["step_h"][records.index.isin(tanks)]
    return [
        Finding(
            "warning",
            files([name]),
            f"sensor {name}",
            got=f"a level every {step_h[name]:.3g} h",
            expected="one an hour or more often, so that the night's rise can be told",
            remedy="Read it every quarter of an hour; until then its zone has no night flow",
        )
        for name in natural(step_h.index[step_h > _INTERVAL_H + _TOLERANCE_H])
    ]
