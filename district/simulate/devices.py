"""Valves, meters, sensors and the reservoir, placed on the drawn pipes."""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd

from district.simulate.layout import Layout, ground_m
from district.simulate.scenario import REDUCED_PRESSURE_M, RESERVOIR_HEAD_M
from district.simulate.true_model import REDUCING_SHARE

PRESSURE_LOGGERS = {"T": 1, "C1": 4, "C2": 1, "C3": 2, "C4": 1, "V1": 4, "V2": 1, "V3": 3}
ACOUSTIC_LOGGERS = {"V1": 6}
"""How many stand in each zone."""
METALS = ("cast_iron", "ductile_iron", "steel")
_HYDRANT_SHARE = 0.9
"""How far along its pipe a hydrant stands."""
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

    Valves and loggers also carry, hidden: pipe_id and share (how far along that pipe); loggers
    zone_id.
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
        _valves(layout.pipes, rng), _zone_meters(layout.pipes), _loggers(layout.pipes, rng), sources
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
                    "pipe_id": pipe.pipe_id,
                    "share": 0.5,
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
                    "pipe_id": pipe.pipe_id,
                    "share": REDUCING_SHARE,
                    "geometry": pipe.geometry.interpolate(length * REDUCING_SHARE),
                }
            )
        for node, back in ((pipe.start, False), (pipe.end, True)):
            enough = length > 22 and meeting[node] >= 3 and pipe.device == ""
            if not enough or rng.random() > _VALVED_SHARE * (1.0 if meeting[node] == 3 else 0.75):
                continue
            off = float(rng.uniform(2.0, 8.0))
            along = length - off if back else off
            rows.append(
                {
                    "valve_id": f"V{len(rows) + 1:03d}",
                    "kind": "isolation",
                    "state": "open",
                    "operable": bool(rng.random() > 0.04),
                    "pipe_id": pipe.pipe_id,
                    "share": along / length,
                    "geometry": pipe.geometry.interpolate(along),
                }
            )
    frame = pd.DataFrame(rows).reindex(
        columns=[
            *("valve_id", "kind", "state", "operable", "setting_m"),
            *("pipe_id", "share", "geometry"),
        ]
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


def _loggers(pipes: gpd.GeoDataFrame, rng: np.random.Generator) -> gpd.GeoDataFrame:
    """Pressure and acoustic loggers on hydrants beside street pipes, spread over their zone."""
    rows = []
    for kind, prefix, counts in (
        ("pressure", "PL", PRESSURE_LOGGERS),
        ("acoustic", "AL", ACOUSTIC_LOGGERS),
    ):
        number = 0
        for zone_id, count in counts.items():
            own = pipes[(pipes["zone_id"] == zone_id) & pipes["part"].isin(["street", "trunk"])]
            if kind == "acoustic":
                own = own[own["material"].isin(METALS)]
            spots = own.geometry.interpolate(_HYDRANT_SHARE, normalized=True)
            for place in _spread(spots, count, rng):
                number += 1
                rows.append(
                    {
                        "sensor_id": f"{prefix}-{number:02d}",
                        "kind": kind,
                        "reading_unit": {"pressure": "m", "acoustic": "dB"}[kind],
                        "zone_id": zone_id,
                        "pipe_id": own["pipe_id"].iloc[place],
                        "share": _HYDRANT_SHARE,
                        "geometry": spots.iloc[place],
                    }
                )
    frame = gpd.GeoDataFrame(rows, geometry="geometry", crs=pipes.crs)
    level = np.round(ground_m(frame.geometry) - 0.6, 2)
    frame["elevation_m"] = np.where(frame["kind"] == "pressure", level, np.nan)
    return frame


def _spread(spots: gpd.GeoSeries, count: int, rng: np.random.Generator) -> list[int]:
    """Positions of `count` spots: one drawn, each further one farthest from those before it."""
    chosen = [int(rng.integers(len(spots)))]
    while len(chosen) < count:
        nearest = np.min([spots.distance(spots.iloc[c]) for c in chosen], axis=0)
        chosen.append(int(nearest.argmax()))
    return chosen
