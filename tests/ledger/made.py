"""Repairs, checks, events and a small network, typed by hand."""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import pandas as pd
from shapely.geometry import LineString, Point

from district.ledger.on_record import COLUMNS
from district.network import Network
from district.schema.columns import Table
from district.schema.entry_forms import ENTRIES
from district.schema.event_tables import EVENTS, REPAIR_CHECKS
from district.schema.field_records import SURVEYS
from district.schema.inputs import BREAKS
from district.schema.typed import typed


def of(table: Table, *rows: dict[str, Any]) -> pd.DataFrame:
    return typed(pd.DataFrame([*rows], columns=[*table.names()]), table)


def around(name: str, value: float, half: float) -> dict[str, float]:
    return {name: value, f"{name}_low": value - half, f"{name}_high": value + half}


def repair(place: str = "P1", day: str = "2025-05-14", **more: Any) -> dict[str, Any]:
    pipe = place if place.startswith("P") else ""
    return {
        "first": pd.Timestamp(day), "repaired": pd.Timestamp(day), "mended_id": place,
        "pipe_id": pipe, "cell_id": "A", "leak_kind": "", "judged_l_s": float("nan"),
        "repair_currency": float("nan"), "job_ids": "", **more,
    }  # fmt: skip


def repairs(*rows: dict[str, Any]) -> pd.DataFrame:
    return pd.DataFrame([*rows], columns=list(COLUMNS))


def check(
    verdict: str = "verified",
    place: str = "P1",
    day: str = "2025-05-14",
    *,
    drop: float = 0.5,
    **more: Any,
) -> dict[str, Any]:
    return {
        "place_id": "A", "event_id": "E-A-1", "work": f"a repair at {place} on {day}",
        "mended_id": place, "repaired": pd.Timestamp(day), "nights_before_count": 28.0,
        "nights_after_count": 28.0, "nights_more_count": 0.0, "verdict": verdict,
        "said": f"after a repair at {place} the night flow of zone A fell",
        **around("before_l_s", 0.5, 0.02), **around("drop_l_s", drop, 0.04),
        **around("remaining_l_s", 0.5 - drop, 0.03), **more,
    }  # fmt: skip


def checks(*rows: dict[str, Any]) -> pd.DataFrame:
    return of(REPAIR_CHECKS, *rows)


def event(name: str = "E-A-1", start: str = "2025-04-04", end: str = "", **more: Any) -> dict:
    last = pd.Timestamp(end) if end else pd.NaT
    run = float(((last if end else pd.Timestamp("2025-12-31")) - pd.Timestamp(start)).days + 1)
    return {
        "event_id": name, "place_kind": "zone", "place_id": "A", "cell_id": "A", "kind": "leak",
        "state": "repaired" if end else "open", "start": pd.Timestamp(start), "end": last,
        "detected": pd.Timestamp(start) + pd.Timedelta(days=2),
        **around("run_d", run, 0.0), **around("size_l_s", 0.5, 0.02),
        **around("growth_l_s_d", 0.0, 0.0), **around("volume_m3", 43.2 * run, 4.0 * run),
        **around("cost_currency", 34.56 * run, 3.2 * run), **more,
    }  # fmt: skip


def events(*rows: dict[str, Any]) -> pd.DataFrame:
    return of(EVENTS, *rows)


def surveys(*rows: tuple[str, str, bool]) -> pd.DataFrame:
    named = [{"date": pd.Timestamp(d), "pipe_id": p, "found": f} for d, p, f in rows]
    return of(SURVEYS, *named)


def breaks(*rows: tuple[str, str]) -> pd.DataFrame:
    return of(BREAKS, *({"date": pd.Timestamp(d), "pipe_id": p, "kind": "main"} for d, p in rows))


def entries(*rows: dict[str, Any]) -> pd.DataFrame:
    return of(ENTRIES, *({"file": "a.csv", "row": n + 2.0, **r} for n, r in enumerate(rows)))


def network() -> Network:
    """Zone A with pipe P1, cut in two at a valve, and P2; connection S1 on P2; meter B1."""
    lines = [LineString([(x, 0), (x + 100, 0)]) for x in (0, 100, 200)]
    pipes = gpd.GeoDataFrame(
        {"layer_pipe_id": ["P1", "P1", "P2"], "cell_id": "A"},
        geometry=lines,
        crs=32630,
        index=["P1/1", "P1/2", "P2"],
    )
    points = [Point(0, 0)]
    owned = gpd.GeoDataFrame(
        {"pipe_id": ["P2"], "cell_id": ["A"], "meter_id": ["B1"], "building_id": ["Hall"]},
        geometry=points, crs=32630, index=["S1"],
    )  # fmt: skip
    meters = gpd.GeoDataFrame({"cell_id": ["A"]}, geometry=points, crs=32630, index=["B1"])
    valves = gpd.GeoDataFrame({"cell_id": ["A"]}, geometry=points, crs=32630, index=["V1"])
    cells = pd.DataFrame({"name": ["Upper"], "zone_ids": [("Z1",)]}, index=["A"])
    none = gpd.GeoDataFrame(geometry=[], crs=32630)
    return Network(
        nodes=none, pipes=pipes, cells=cells, boundaries=pd.DataFrame(), meters=meters,
        connections=owned, sensors=none, valves=valves, sources=none, zones=none,
    )  # fmt: skip
