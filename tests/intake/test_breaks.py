"""Breaks by their place, and twice."""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import Transformer
from shapely.geometry import LineString

from district.intake.breaks import NEAR_M, settled_breaks
from district.schema.columns import check
from district.schema.inputs import BREAKS, PIPES

EAST_M, NORTH_M = 600_000.0, 5_200_000.0
AT = Transformer.from_crs(32632, 4326, always_xy=True)
Rows = list[dict[str, Any]]


def pipes(*rows: tuple[str, float, dict[str, Any]]) -> gpd.GeoDataFrame:
    """Pipes of 100 m due east, each so far north."""
    frame = gpd.GeoDataFrame(
        [
            {
                "pipe_id": pipe,
                "geometry": LineString(
                    [(EAST_M, NORTH_M + north), (EAST_M + 100, NORTH_M + north)]
                ),
                **columns,
            }
            for pipe, north, columns in rows
        ],
        geometry="geometry",
        crs=32632,
    )
    tidy, findings = check(PIPES, frame, source="pipes")
    assert findings == ()
    return tidy


def placed(date: str, north_m: float, east_m: float = 50.0, **more: Any) -> dict[str, Any]:
    lon, lat = AT.transform(EAST_M + east_m, NORTH_M + north_m)
    return {"date": date, "longitude_deg": lon, "latitude_deg": lat, **more}


def breaks(rows: Rows) -> pd.DataFrame:
    tidy, findings = check(BREAKS, pd.DataFrame(rows), source="breaks")
    assert findings == ()
    return tidy


def named(rows: Rows, layer: gpd.GeoDataFrame) -> list[Any]:
    return settled_breaks(breaks(rows), layer, file="b.csv")[0]["pipe_id"].tolist()


def test_a_place_is_on_the_nearest_pipe() -> None:
    layer = pipes(("P1", 0.0, {}), ("P2", 20.0, {}))
    rows = [placed("2020-01-01", 9.0), placed("2020-01-02", 11.0), placed("2020-01-03", 49.0)]
    assert named(rows, layer) == ["P1", "P2", "P2"]


def test_on_a_pipe_that_lay_there_then() -> None:
    layer = pipes(
        ("new", 0.0, {"installed_year": 1999}),
        ("old", 2.0, {"installed_year": 1930, "removed_year": 1999, "status": "abandoned"}),
        ("planned", 0.5, {"status": "planned"}),
        ("undated", 25.0, {}),
    )
    rows = [placed(f"{year}-06-01", 0.5) for year in (1980, 1999, 2005, 1920)]
    assert named(rows, layer) == ["old", "new", "new", "undated"]


def test_of_pipes_as_near_the_first_by_id() -> None:
    rows = [placed("2020-01-01", 5.0)]
    for order in (("P10", "P2"), ("P2", "P10")):
        assert named(rows, pipes((order[0], 0.0, {}), (order[1], 0.0, {}))) == ["P2"]


def test_a_pipe_id_counts_before_a_place() -> None:
    layer = pipes(("P1", 0.0, {}), ("P2", 20.0, {}))
    assert named([placed("2020-01-01", 0.0, pipe_id="P2")], layer) == ["P2"]


def test_places_on_no_pipe_are_told() -> None:
    layer = pipes(("P1", 0.0, {"installed_year": 1990}), ("P2", -400.0, {}))
    rows = [
        placed("2020-01-01", NEAR_M + 15),
        placed("1980-02-03", 10.0),
        {"date": "2020-05-06", "longitude_deg": 3.0, "latitude_deg": 0.0},
    ]
    settled, found = settled_breaks(breaks(rows), layer, file="b.csv")
    assert settled["pipe_id"].isna().all()
    assert [f.severity for f in found] == ["warning"] * 3
    tail = (
        "expected a place within 30 m of a pipe that lay there then. Correct the place or give a "
        "pipe_id; until then this break counts for no pipe."
    )
    where = "column longitude_deg, latitude_deg: got a place"
    assert [f.sentence() for f in found] == [
        f"b.csv, row of 2020-01-01, {where} 45 m from the nearest pipe, P1, {tail}",
        f"b.csv, row of 1980-02-03, {where} 10 m from the nearest pipe, P1, which did not lie "
        f"there then, {tail}",
        f"b.csv, row of 2020-05-06, {where} far from all pipes (3.00000, 0.00000), {tail}",
    ]


@pytest.mark.parametrize("distance_m", [NEAR_M - 0.1, NEAR_M + 0.1])
def test_the_reach_is_told_in_true_metres(distance_m: float) -> None:
    # The scale of UTM at 1.3 degrees from its meridian is 0.99972: 0.01 m in 30.
    found = named([placed("2020-01-01", distance_m)], pipes(("P1", 0.0, {})))
    assert (found == ["P1"]) == (distance_m < NEAR_M)


def test_one_break_told_twice_counts_once() -> None:
    layer = pipes(("P1", 0.0, {}))
    rows = [
        {"date": "2020-01-01", "pipe_id": "P1", "kind": "main"},
        {"date": "2020-01-01", "pipe_id": "P1", "kind": "main"},
        {"date": "2020-01-01", "pipe_id": "P1", "kind": "service"},
        {"date": "2020-01-02", "pipe_id": "P1", "kind": "main"},
    ]
    settled, found = settled_breaks(breaks(rows), layer, file="b.csv")
    assert len(settled) == 3
    assert [f.sentence() for f in found] == [
        "b.csv, row of 2020-01-01 on P1: got the same main break a second time, expected each "
        "break once. Remove the copy; until then it counts once."
    ]


def test_two_places_on_one_day_are_two_breaks() -> None:
    layer = pipes(("P1", 0.0, {}))
    rows = [
        {"date": "2020-01-01", "pipe_id": "P1"},
        placed("2020-01-01", 1.0, 10.0),
        placed("2020-01-01", 1.0, 80.0),
        placed("2020-01-01", 1.0, 80.0),
    ]
    settled, found = settled_breaks(breaks(rows), layer, file="b.csv")
    assert len(settled) == 2
    assert settled["longitude_deg"].notna().all()
    assert len(found) == 2


def test_without_pipes_or_breaks_all_stays() -> None:
    rows = breaks([placed("2020-01-01", 1.0)])
    settled, found = settled_breaks(rows, pipes(("P1", 0.0, {})).iloc[:0], file="b.csv")
    assert settled.equals(rows)
    assert found == []
    none, found = settled_breaks(rows.iloc[:0], pipes(("P1", 0.0, {})), file="b.csv")
    assert none.empty
    assert found == []


@given(seed=st.integers(0, 1000))
@settings(max_examples=10, deadline=None)
def test_the_order_of_rows_changes_nothing_and_nothing_is_written_to(seed: int) -> None:
    random = np.random.default_rng(seed)
    layer = pipes(*[(f"P{n}", 20.0 * n, {"installed_year": 1950 + 9 * n}) for n in range(6)])
    rows: Rows = [
        placed(f"{random.integers(1950, 2000)}-01-01", float(random.uniform(-60, 160)))
        for _ in range(12)
    ]
    rows += rows[:3] + [{"date": "1999-01-01", "pipe_id": "P1"}] * 2
    table = breaks(rows)
    before = table.copy()

    def told(shuffled: pd.DataFrame, mains: gpd.GeoDataFrame) -> Any:
        settled, found = settled_breaks(shuffled, mains, file="b.csv")
        key = settled.sort_values([*BREAKS.names()], ignore_index=True)
        return key, sorted(f.sentence() for f in found)

    one = told(table, layer)
    mixed = layer.iloc[random.permutation(len(layer))].reset_index(drop=True)
    other = told(table.iloc[random.permutation(len(table))].reset_index(drop=True), mixed)
    pd.testing.assert_frame_equal(one[0], other[0])
    assert one[1] == other[1]
    assert table.equals(before)
