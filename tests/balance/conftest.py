"""A district typed by hand: source cell S feeds North, which feeds South.

S --(M1)--> North --(M2)--> South
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from shapely.geometry import LineString, Point

from district.balance import district_balance
from district.balance.contest import Pairs
from district.balance.equations import Equations
from district.network.model import Network
from district.results import Reduced
from district.schema import empty
from district.schema.inputs import WORKS
from district.schema.stored import (
    ALARMS,
    DEVICE_QUALITY,
    HOURLY_PRESSURES,
    NIGHT_MINIMA,
)
from district.settings import Settings


def points(frame: pd.DataFrame) -> gpd.GeoDataFrame:
    return gpd.GeoDataFrame(frame, geometry=[Point(i, 0) for i in range(len(frame))], crs=32630)


def network_of(**changes: Any) -> Network:
    cells = pd.DataFrame(
        {
            "name": ["Trunk", "North End", "South End"],
            "parent_cell_id": ["", "", "North"],
            "has_source": [True, False, False],
            "mains_km": [1.0, 4.0, 2.0],
            "connections_count": [0, 4, 3],
            "properties_count": [0, 103, 60],
            "private_km": [0.0, 0.2, 0.1],
            "elevation_m": [np.nan, 10.0, np.nan],
        },
        index=pd.Index(["S", "North", "South"], name="cell_id"),
    )
    boundaries = pd.DataFrame(
        {
            "meter_id": ["M1", "M2"],
            "upstream_cell_id": ["S", "North"],
            "downstream_cell_id": ["North", "South"],
            "role": ["inlet", "transfer"],
            "kind": ["electromagnetic", "pulse"],
            "error_percent": [2.0, 2.0],
        }
    )
    connections = points(
        pd.DataFrame(
            {
                "pipe_id": ["P1"] * 4 + ["P2"] * 3,
                "cell_id": ["North"] * 4 + ["South"] * 3,
                "properties": [60, 40, 1, 2, 30, 29, 1],
                "use_class": [
                    "household",
                    "household",
                    "commercial",
                    "commercial",
                    "household",
                    "household",
                    "laundry",
                ],
                "critical": False,
                "meter_id": ["", "", "B1", "C1", "", "C2", ""],
                "building_id": "",
                "private_pipe_m": 0.0,
                "elevation_m": np.nan,
            },
            index=pd.Index([f"K{i}" for i in range(1, 8)], name="connection_id"),
        )
    )
    meters = points(
        pd.DataFrame(
            {
                "role": ["inlet", "transfer", "building", "customer", "customer"],
                "error_percent": [2.0, 2.0, 4.0, np.nan, 2.0],
                "cell_id": ["", "", "North", "North", "South"],
            },
            index=pd.Index(["M1", "M2", "B1", "C1", "C2"], name="meter_id"),
        )
    )
    pipes = gpd.GeoDataFrame(
        {
            "layer_pipe_id": ["P1", "P1", "P2"],
            "cell_id": ["S", "North", "South"],
            "start_position": 0,
            "end_position": 0,
        },
        index=pd.Index(["P1/1", "P1/2", "P2"], name="pipe_id"),
        geometry=[LineString([(i, 0), (i + 1, 0)]) for i in range(3)],
        crs=32630,
    )
    sensors = points(
        pd.DataFrame(
            {"kind": ["pressure"], "elevation_m": [8.0], "cell_id": ["North"], "pipe_id": ["P1/2"]},
            index=pd.Index(["G1"], name="sensor_id"),
        )
    )
    valves = points(pd.DataFrame({"cell_id": ["South"]}, index=pd.Index(["V1"], name="valve_id")))
    parts: dict[str, Any] = {
        "nodes": points(pd.DataFrame({"cut": [""]})),
        "pipes": pipes,
        "cells": cells,
        "boundaries": boundaries,
        "connections": connections,
        "valves": valves,
        "sensors": sensors,
        "sources": points(pd.DataFrame({"head_m": [60.0]})),
        "meters": meters,
        "zones": points(pd.DataFrame({"name": ["North End"]}, index=["North"])),
    }
    return Network(**(parts | changes))


def night_rows(nights: pd.DatetimeIndex, flows: dict[str, Any]) -> pd.DataFrame:
    return pd.concat(
        [
            pd.DataFrame(
                {
                    "device_id": device,
                    "night": nights,
                    "flow_l_s": np.broadcast_to(np.asarray(flow, float), len(nights)),
                    "window_h": 2.0,
                    "coverage_share": 1.0,
                }
            )
            for device, flow in flows.items()
        ],
        ignore_index=True,
    )


def day_rows(days: pd.DatetimeIndex, volumes: dict[str, Any]) -> pd.DataFrame:
    return pd.concat(
        [
            pd.DataFrame(
                {
                    "device_id": device,
                    "day": days,
                    "volume_m3": np.broadcast_to(np.asarray(volume, float), len(days)),
                    "coverage_share": 1.0,
                    "spread_share": 0.0,
                }
            )
            for device, volume in volumes.items()
        ],
        ignore_index=True,
    )


def pressure_rows(days: pd.DatetimeIndex, by_hour: Any, device: str = "G1") -> pd.DataFrame:
    return pd.DataFrame(
        {
            "device_id": device,
            "day": np.repeat(days, 24),
            "hour": np.tile(np.arange(24.0), len(days)),
            "pressure_m": np.tile(np.broadcast_to(np.asarray(by_hour, float), 24), len(days)),
        }
    )


NIGHTS = pd.date_range("2026-03-01", periods=20, freq="D")


def reduced_of(nights: pd.DatetimeIndex = NIGHTS, **changes: Any) -> Reduced:
    parts: dict[str, Any] = {
        "quality": empty(DEVICE_QUALITY),
        "night_flows": night_rows(nights, {"M1": 1.0, "M2": 0.4, "B1": 0.2}),
        "night_minima": empty(NIGHT_MINIMA),
        "daily_volumes": day_rows(
            nights, {"M1": 130.0, "M2": 50.0, "B1": 25.0, "C1": 4.0, "C2": 10.0}
        ),
        "hourly_pressures": empty(HOURLY_PRESSURES),
        "alarms": empty(ALARMS),
    }
    return Reduced(**(parts | changes))


def drawn_equations(
    seed: int = 0,
    *,
    days_count: int = 120,
    leaks: tuple[tuple[int, int, float], ...] = (),
    use: tuple[tuple[int, int, float], ...] = (),
    fault: tuple[int, int, float] | None = None,
    passing: tuple[int, int, int, float] | None = None,
) -> Equations:
    """Cells in a row, 0 -> 1 -> 2 -> 3, meter i into cell i, with what is known to happen.

    `leaks` (cell, first day, L/s); `use` (cell, first day, share more by day); `fault` (meter,
    first day, share of what passes that it reads too much); `passing` (from cell, to cell, first
    day, L/s) unmetered.
    """
    rng = np.random.default_rng(seed)
    count, by_day = 4, np.array([3.0, 2.0, 1.5, 2.5])
    own_day = by_day * (1 + 0.02 * rng.normal(size=(days_count, count)))
    own_night = 0.12 * by_day + 0.015 * rng.normal(size=(days_count, count))
    for cell, first, share in use:
        own_day[first:, cell] *= 1 + share
    leak = np.full((days_count, count), 0.2)
    for cell, first, flow in leaks:
        leak[first:, cell] += flow
    night, day = own_night + leak, own_day + 0.9 * leak
    if passing is not None:
        source, into, first, flow = passing
        for values in (night, day):
            values[first:, into] -= flow
            values[first:, source] += flow
    night, day = (np.cumsum(v[:, ::-1], axis=1)[:, ::-1].copy() for v in (night, day))
    if fault is not None:
        meter, first, share = fault
        for values in (night, day):
            values[first:, meter] *= 1 + share
    left_night, left_day = night.copy(), day.copy()
    for values, read in ((left_night, night), (left_day, day)):
        values[:, :-1] -= read[:, 1:]
    return Equations(
        days=pd.date_range("2026-01-05", periods=days_count, freq="D"),
        cells=pd.Index([f"Z{i}" for i in range(count)], dtype=object),
        meters=pd.Index([f"M{i}" for i in range(count)], dtype=object),
        upstream=np.array([-1, 0, 1, 2]),
        downstream=np.arange(4),
        night_l_s=left_night - 0.12 * by_day,
        day_l_s=left_day - by_day,
        night_flow_l_s=night,
        day_flow_l_s=day,
        factor_share=np.full(count, 0.9),
        use_l_s=by_day,
        metered_share=np.zeros(days_count),
    )


ROW_PAIRS = Pairs(np.array([0, 1, 2]), np.array([1, 2, 3]), ((), ("V12",), ()))


@pytest.fixture
def draw_equations() -> Callable[..., Equations]:
    return drawn_equations


@pytest.fixture
def pairs() -> Pairs:
    return ROW_PAIRS


@pytest.fixture
def make_network() -> Callable[..., Network]:
    return network_of


@pytest.fixture
def make_reduced() -> Callable[..., Reduced]:
    return reduced_of


@pytest.fixture
def nights() -> pd.DatetimeIndex:
    return NIGHTS


@pytest.fixture
def night_table() -> Callable[..., pd.DataFrame]:
    return night_rows


@pytest.fixture
def day_table() -> Callable[..., pd.DataFrame]:
    return day_rows


@pytest.fixture
def pressure_table() -> Callable[..., pd.DataFrame]:
    return pressure_rows


@pytest.fixture
def settings() -> Settings:
    return Settings()


@pytest.fixture
def no_works() -> pd.DataFrame:
    return empty(WORKS)


@pytest.fixture
def audited(
    make_network: Any, make_reduced: Any, pressure_table: Any, no_works: Any, nights: Any
) -> Any:
    """The balance of the hand-typed district with a pressure logger in North, audited."""
    hourly = pressure_table(nights, 45.0 - 8.0 * np.sin(np.arange(24.0) / 24 * np.pi))
    return district_balance(
        make_network(),
        make_reduced(hourly_pressures=hourly),
        settings=Settings(),
        works=no_works,
        audited=True,
    )
