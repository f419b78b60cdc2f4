"""Valves, meters, sensors and the reservoir, placed on the drawn pipes."""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd

from district.simulate.layout import Layout, ground_m
from district.simulate.scenario import REDUCED_PRESSURE_M, RESERVOIR_HEAD_M

PRESSURE_ZONES = ("T", "C1", "C1", "C2", "C3", "C4", "V1", "V1", "V2", "V3")
REDUCING_SHARE = 0.3
"""How far along its link the reducing valve stands; its meter stands half-way."""
_VALVED_SHARE = 0.62
_ZONE_METERS: dict[str, dict[str, object]] = {
    "ZM-T": {"kind": "electromagnetic", "reading_unit": "l/s", "error_percent": 1.0},
    "ZM-C1": {"kind": "electromagnetic", "reading_unit": "l/s", "error_percent": 1.5},
    "ZM-C2": {"kind": "transit_time", "reading_unit": "l/s", "error_percent": 2.0},
    "ZM-C3": {"kind": "electromagnetic", "reading_unit": "l/s", "error_percent": 1.5},
    "ZM-C4": {"kind": "pulse", "litres_per_pulse": 1000.0, "error_percent": 2.0},
    "ZM-V1": {"kind": "electromagnetic", "reading_unit": "l/s", "error_percent": 1.5},
    "ZM-V2": {"kind": "electromagnetic", "reading_unit": "l/s", "error_percent": 1.5},
    "ZM-V3": {
        "kind": "register",
        "reading_unit": "m3",
        "register_digits": 5,
        "resolution_l": 10.0,
        "error_percent": 2.0,
    },
    "ZM-V1V2": {"kind": "electromagnetic", "reading_unit": "l/s", "error_percent": 2.0},
}


@dataclass(frozen=True, eq=False)
class Devices:
    """The layers `inputs.VALVES`, METERS (zone meters only), SENSORS and SOURCES.

    Pressure loggers also carry, hidden: zone_id, feed_share, elevation_m (never empty).
    """

    valves: gpd.GeoDataFrame
    meters: gpd.GeoDataFrame
    sensors: gpd.GeoDataFrame
    sources: gpd.GeoDataFrame


def place_devices(layout: Layout, rng: np.random.Generator) -> Devices:
    """Put devices on the pipes; wet-floor sensors stand at buildings, not here."""
    source = gpd.GeoSeries(
        [
            layout.pipes[layout.pipes["part"] == "stub"].geometry.iloc[0].interpolate(0.0),
        ],
        crs=layout.pipes.crs,
    )
    sources = gpd.GeoDataFrame(
        {"source_id": ["Springhead reservoir"], "head_m": [RESERVOIR_HEAD_M], "geometry": source},
        geometry="geometry",
        crs=layout.pipes.crs,
    )
    return Devices(
        _valves(layout.pipes, rng), _zone_meters(layout.pipes), _loggers(layout, rng), sources
    )


def _valves(pipes: gpd.GeoDataFrame, rng: np.random.Generator) -> gpd.GeoDataFrame:
    """Most stretches meeting at a junction have a valve 2 to 8 m from it."""
    meeting = pd.concat([pipes["start"], pipes["end"]]).value_counts()
    rows: list[dict[str, object]] = []
    for pipe in pipes.itertuples():
        length = pipe.geometry.length
        if pipe.device == "shut":
            rows.append(
                {
                    "valve_id": pipe.device_id,
                    "kind": "boundary",
                    "state": "shut",
                    "operable": True,
                    "geometry": pipe.geometry.interpolate(length / 2),
                }
            )
            continue
        if pipe.device_id == "ZM-V3":
            rows.append(
                {
                    "valve_id": "PRV-V3",
                    "kind": "pressure_reducing",
                    "state": "open",
                    "operable": True,
                    "setting_m": REDUCED_PRESSURE_M,
                    "geometry": pipe.geometry.interpolate(length * REDUCING_SHARE),
                }
            )
        for node, back in ((pipe.start, False), (pipe.end, True)):
            enough = length > 22 and meeting[node] >= 3 and pipe.device == ""
            if not enough or rng.random() > _VALVED_SHARE * (1.0 if meeting[node] == 3 else 0.75):
                continue
            off = float(rng.uniform(2.0, 8.0))
            rows.append(
                {
                    "valve_id": f"V{len(rows) + 1:03d}",
                    "kind": "isolation",
                    "state": "open",
                    "operable": bool(rng.random() > 0.04),
                    "geometry": pipe.geometry.interpolate(length - off if back else off),
                }
            )
    frame = pd.DataFrame(rows).reindex(
        columns=["valve_id", "kind", "state", "operable", "setting_m", "geometry"]
    )
    return gpd.GeoDataFrame(frame, geometry="geometry", crs=pipes.crs)


def _zone_meters(pipes: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    metered = pipes[pipes["device"].isin(["inlet", "transfer", "outlet"])]
    frame = pd.DataFrame(
        [
            {
                "meter_id": pipe.device_id,
                "role": pipe.device,
                "downstream": pipe.to_zone_id or pipe.zone_id,
                **_ZONE_METERS[pipe.device_id],
                "geometry": pipe.geometry.interpolate(0.5, normalized=True),
            }
            for pipe in metered.itertuples()
        ]
    )
    return gpd.GeoDataFrame(frame, geometry="geometry", crs=pipes.crs)


def _loggers(layout: Layout, rng: np.random.Generator) -> gpd.GeoDataFrame:
    """Pressure loggers on hydrants beside street pipes, one or two a zone, spread apart."""
    pipes = layout.pipes
    rows = []
    for number, zone_id in enumerate(PRESSURE_ZONES, start=1):
        own = pipes[(pipes["zone_id"] == zone_id) & pipes["part"].isin(["street", "trunk"])]
        reach = layout.reach.loc[own["end"], "feed_share"].to_numpy()
        second = zone_id in PRESSURE_ZONES[: number - 1]
        good = own[(reach > 0.7) if second else (reach > 0.3) & (reach < 0.65)]
        pipe = good.iloc[int(rng.integers(len(good)))]
        rows.append(
            {
                "sensor_id": f"PL-{number:02d}",
                "kind": "pressure",
                "reading_unit": "m",
                "zone_id": zone_id,
                "feed_share": float(layout.reach.loc[pipe["end"], "feed_share"]),
                "geometry": pipe.geometry.interpolate(0.9, normalized=True),
            }
        )
    frame = gpd.GeoDataFrame(rows, geometry="geometry", crs=pipes.crs)
    frame["elevation_m"] = np.round(ground_m(frame.geometry) - 0.6, 2)
    return frame
