"""Made events, repairs, buildings and sensors, for what is printed of them."""

from __future__ import annotations

from typing import Any

import pandas as pd

from district.results import Basis, Events
from district.schema.columns import Table
from district.schema.event_tables import (
    BUILDING_CHECKS,
    EVENT_CAUSES,
    EVENTS,
    REPAIR_CHECKS,
    SENSOR_CHECKS,
)

ZONES = pd.DataFrame({"cell_id": ["A", "B"], "name": ["Upper", "Lower"]})
NAMES = ZONES.set_index("cell_id")["name"]


def estimate(name: str, value: float, low: float, high: float) -> dict[str, float]:
    return {name: value, f"{name}_low": low, f"{name}_high": high}


LEAK = {
    "event_id": "E-A-1", "place_kind": "zone", "place_id": "A", "cell_id": "A", "kind": "leak",
    "kind_share": 0.92, "reason": "night flow of zone A rose by 0.5 L/s", "state": "open",
    "start": pd.Timestamp("2025-03-04"), "since_first": pd.Timestamp("2025-03-03"),
    "since_last": pd.Timestamp("2025-03-04"), "start_low": pd.Timestamp("2025-03-04"),
    "start_high": pd.Timestamp("2025-03-04"), "rank": 2.0, "act": True, "support": "flow",
    **estimate("run_d", 28.0, 28.0, 29.0), **estimate("size_l_s", 0.5, 0.45, 0.55),
    **estimate("volume_m3", 1200.0, 1100.0, 1300.0),
    **estimate("cost_currency", 960.0, 880.0, 1040.0),
}  # fmt: skip
INDOORS = {
    **LEAK, "event_id": "E-M1-1", "place_kind": "building", "place_id": "M1", "rank": 1.0,
    "kind": "building_flow", "kind_share": 0.999, "reason": "",
}  # fmt: skip
OVER = {
    **LEAK, "event_id": "E-B-1", "place_id": "B", "cell_id": "B", "act": False, "rank": None,
    "state": "repaired", "work": "a repair at P7", "end": pd.Timestamp("2025-03-20"),
}  # fmt: skip
WET = {
    "event_id": "E-W1-1", "place_kind": "sensor", "place_id": "W1", "cell_id": "B",
    "kind": "wet_floor", "state": "open", "start": pd.Timestamp("2025-03-05"), "act": True,
    "reason": "water on the floor", "rank": 3.0, "run_d": 27.4,
}  # fmt: skip
CAUSES = [
    ("leak", 0.92, "for it: it stayed. against it: zone B fell"),
    ("use", 0.07, ""),
    ("unknown", 0.01, "said of none"),
]
REPAIR = {
    "place_id": "B", "work": "a repair at P7", "repaired": pd.Timestamp("2025-03-20"),
    "verdict": "partly", "said": "After a repair at P7 the night flow of zone B fell",
    **estimate("before_l_s", 0.5, 0.45, 0.55), **estimate("drop_l_s", 0.3, 0.28, 0.32),
    **estimate("remaining_l_s", 0.2, 0.18, 0.22),
}  # fmt: skip
HALL = {
    "device_id": "M1", "building_id": "Hall", "cell_id": "A", "verdict": "constant_flow",
    "since": pd.Timestamp("2025-03-01"), "said": "It runs.", "act": True,
    **estimate("constant_l_s", 0.01, 0.009, 0.011),
    **estimate("cost_currency_year", 250.0, 225.0, 275.0),
}  # fmt: skip
SHUT = {
    "device_id": "M2", "building_id": "", "cell_id": "B", "verdict": "dead", "act": True,
    "said": "It shows nothing",
}  # fmt: skip
BOILER = {**HALL, "device_id": "M3", "building_id": "Boiler House", "act": False}
LOOSE = {
    "sensor_id": "W1", "kind": "wet_floor", "building_id": "Hall", "cell_id": "A",
    "verdict": "flapping", "said": "It turned wet 20 times",
}  # fmt: skip
SOUND = {**LOOSE, "sensor_id": "W2", "building_id": "", "verdict": "sound", "said": ""}


def of(table: Table, *rows: dict[str, Any]) -> pd.DataFrame:
    return pd.DataFrame([*rows], columns=[*table.names()])


def happened(
    *events: dict[str, Any],
    repairs: tuple[dict[str, Any], ...] = (),
    buildings: tuple[dict[str, Any], ...] = (),
    sensors: tuple[dict[str, Any], ...] = (),
) -> Events:
    causes = [
        {"event_id": e["event_id"], "kind": kind, "probability_share": share, "reason": reason}
        for e in events
        if e["place_kind"] == "zone"
        for kind, share, reason in CAUSES
    ]
    return Events(
        of(EVENTS, *events),
        Basis(assumptions=("Single nights are not listed.",)),
        causes=of(EVENT_CAUSES, *causes),
        repair_checks=of(REPAIR_CHECKS, *repairs),
        building_checks=of(BUILDING_CHECKS, *buildings),
        sensor_checks=of(SENSOR_CHECKS, *sensors),
    )


ALL = happened(
    LEAK,
    INDOORS,
    OVER,
    WET,
    repairs=(REPAIR,),
    buildings=(SHUT, HALL, BOILER),
    sensors=(LOOSE, SOUND),
)
NOTHING = happened()
