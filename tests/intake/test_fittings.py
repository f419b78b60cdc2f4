from __future__ import annotations

from dataclasses import replace
from typing import Any

import geopandas as gpd
import pandas as pd
import pytest
from shapely.geometry import LineString, Point

from district.intake.fittings import check_valves, spans_of
from district.results import Inputs

METERS = [{"meter_id": m, "role": r} for m, r in [("A", "inlet"), ("B", "transfer")]]
HOUR_US = 3_600_000_000


@pytest.fixture
def inputs(inputs_of: Any) -> Inputs:
    """Meter A on P1 (100 mm, with a check valve), B where P1 and P2 (150 mm) meet."""
    bare: Inputs = inputs_of(METERS)
    meters = bare.meters.set_geometry([Point(10, 0), Point(100, 0)], crs="EPSG:32632")
    pipes = gpd.GeoDataFrame(
        {"pipe_id": ["P1", "P2"], "diameter_mm": [100.0, 150.0]},
        geometry=[LineString([(0, 0), (100, 0)]), LineString([(100, 0), (200, 0)])],
        crs="EPSG:32632",
    )
    valves = gpd.GeoDataFrame(
        {"valve_id": ["V1", "V2"], "kind": ["check", "isolation"]},
        geometry=[Point(50, 0), Point(150, 0)],
        crs="EPSG:32632",
    )
    defaults = pd.DataFrame(columns=["table", "column", "rows_count", "value"])
    return replace(bare, meters=meters, pipes=pipes, valves=valves, defaults=defaults)


def test_a_check_valve_on_the_same_pipe(inputs: Inputs) -> None:
    assert check_valves(inputs) == {"A": "V1", "B": "V1"}
    open_ = replace(inputs, valves=inputs.valves.assign(kind="isolation"))
    assert check_valves(open_) == {}


def test_works_by_meter_in_microseconds() -> None:
    works = pd.DataFrame(
        {
            "start": pd.to_datetime(["1970-01-01T02:00Z", "1970-01-01T00:00Z", None], utc=True),
            "end": pd.to_datetime(["1970-01-01T03:00Z", "1970-01-01T01:00Z", None], utc=True),
            "kind": "empty",
            "place_id": ["A", "A", "B"],
        }
    )
    assert spans_of(works, "empty") == {"A": ((0, HOUR_US), (2 * HOUR_US, 3 * HOUR_US))}
    assert spans_of(works, "meter_change") == {}
