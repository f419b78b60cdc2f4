"""Series of nights and a tiny network for detecting, typed or drawn from a seed."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from shapely.geometry import LineString, Point, box

from district.detect.change import Change, refined
from district.detect.sequential import watch
from district.network import Network
from district.night_noise import limit_for
from district.schema import empty
from district.schema.inputs import WORKS
from district.schema.stored import ALARMS

FIRST = "2025-01-01"


def make_nights(flows: dict[str, Sequence[float]], **more: object) -> pd.DataFrame:
    rows = [
        pd.DataFrame(
            {
                "cell_id": cell,
                "night": pd.date_range(FIRST, periods=len(flow), freq="D"),
                "status": "measured",
                "leakage_l_s": np.asarray(flow, dtype=float),
                **more,
            }
        )
        for cell, flow in flows.items()
    ]
    return pd.concat(rows, ignore_index=True)


def make_building_nights(flows: dict[str, Sequence[float]]) -> pd.DataFrame:
    columns = ["device_id", "night", "flow_l_s", "window_h", "coverage_share"]
    if not flows:
        return pd.DataFrame(columns=columns)
    frame = make_nights(flows).rename(columns={"cell_id": "device_id", "leakage_l_s": "flow_l_s"})
    return frame.assign(window_h=2.0, coverage_share=1.0)[columns]


def make_works(rows: list[tuple[str, str, str, str]]) -> pd.DataFrame:
    if not rows:
        return empty(WORKS)
    frame = pd.DataFrame(rows, columns=["start", "end", "kind", "place_id"])
    for name in ("start", "end"):
        frame[name] = pd.to_datetime(frame[name], utc=True)
    return frame.assign(note="")


def make_alarms(rows: list[tuple[str, str, str]]) -> pd.DataFrame:
    if not rows:
        return empty(ALARMS)
    frame = pd.DataFrame(rows, columns=["device_id", "start_utc", "end_utc"])
    for name in ("start_utc", "end_utc"):
        frame[name] = pd.to_datetime(frame[name], utc=True)
    hours = (frame["end_utc"] - frame["start_utc"]) / pd.Timedelta(hours=1)
    return frame.assign(readings_count=2.0, onsets_count=1.0, alarm_h=hours)


def make_network() -> Network:
    # source --(M1)-- V1 --(M2)-- V2 --[shut valve X1]-- V3 --(M3)-- outside; V4 only beside V3
    cells = ["V1", "V2", "V3", "V4"]
    nodes = gpd.GeoDataFrame(
        {"cut": ["M1", "M2", "X1", "M3", "", ""]},
        geometry=[Point(100 * i, 0) for i in range(6)],
        crs=32630,
    )
    pipes = gpd.GeoDataFrame(
        {
            "layer_pipe_id": ["P1", "P2", "P3", "P4"],
            "start_position": [0, 1, 2, 4],
            "end_position": [1, 2, 3, 5],
            "cell_id": cells,
        },
        geometry=[LineString([(100 * i, 0), (100 * i + 100, 0)]) for i in (0, 1, 2, 4)],
        crs=32630,
        index=["P1", "P2", "P3", "P4"],
    )
    boundaries = pd.DataFrame(
        {
            "meter_id": ["M1", "M2", "M3"],
            "upstream_cell_id": ["", "V1", "V3"],
            "downstream_cell_id": ["V1", "V2", ""],
            "role": ["inlet", "transfer", "outlet"],
            "kind": "electromagnetic",
            "error_percent": [2.0, 2.0, 2.0],
        }
    )
    meters = gpd.GeoDataFrame(
        {
            "role": ["inlet", "transfer", "outlet", "building", "customer"],
            "cell_id": ["", "", "", "V2", "V2"],
            "error_percent": 2.0,
        },
        geometry=[Point(0, 0)] * 5,
        crs=32630,
        index=["M1", "M2", "M3", "B1", "B2"],
    )
    connections = gpd.GeoDataFrame(
        {"meter_id": ["B1", "B2"], "building_id": ["Hall", ""], "cell_id": "V2"},
        geometry=[Point(150, 0)] * 2,
        crs=32630,
        index=["C1", "C2"],
    )
    sensors = gpd.GeoDataFrame(
        {"kind": "wet_floor", "building_id": ["Hall", None], "cell_id": ["V2", ""]},
        geometry=[Point(150, 0)] * 2,
        crs=32630,
        index=["W1", "W2"],
    )
    valves = gpd.GeoDataFrame(
        {"kind": ["boundary"], "state": ["shut"], "cell_id": [""]},
        geometry=[Point(200, 0)],
        crs=32630,
        index=["X1"],
    )
    zones = gpd.GeoDataFrame(
        {"zone_id": cells},
        geometry=[box(0, 0, 90, 9), box(110, 0, 190, 9), box(210, 0, 290, 9), box(294, 0, 400, 9)],
        crs=32630,
    ).set_index("zone_id", drop=False)
    return Network(
        nodes=nodes,
        pipes=pipes,
        cells=pd.DataFrame({"name": cells, "zone_ids": [(c,) for c in cells]}, index=cells),
        boundaries=boundaries,
        connections=connections,
        valves=valves,
        sensors=sensors,
        sources=gpd.GeoDataFrame(geometry=[], crs=32630),
        meters=meters,
        zones=zones,
    )


def make_quiet(nights: int, seed: int, *, level: float = 0.5, sigma: float = 0.03) -> np.ndarray:
    return level + np.random.default_rng(seed).normal(0, sigma, nights)


def find_changes_of(
    x: np.ndarray, sigma_l_s: float, false_alarms_per_year: float = 0.5
) -> tuple[Change, ...]:
    """One series through the change test, no rhythm taken out, its noise given for the dating."""
    none = np.zeros((len(x), 9))
    told = watch(x[:, None], limit=limit_for(false_alarms_per_year), features=none, shared=False)
    return refined(x, sigma_l_s=sigma_l_s, alarms=told.alarms[0])


@pytest.fixture
def changes_of() -> Callable[..., tuple[Change, ...]]:
    return find_changes_of


@pytest.fixture
def nights_of() -> Callable[..., pd.DataFrame]:
    return make_nights


@pytest.fixture
def building_nights_of() -> Callable[..., pd.DataFrame]:
    return make_building_nights


@pytest.fixture
def works_of() -> Callable[..., pd.DataFrame]:
    return make_works


@pytest.fixture
def alarms_of() -> Callable[..., pd.DataFrame]:
    return make_alarms


@pytest.fixture
def quiet() -> Callable[..., np.ndarray]:
    return make_quiet


@pytest.fixture
def network() -> Network:
    return make_network()
