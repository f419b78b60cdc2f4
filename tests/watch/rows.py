"""Events, checks and places typed by hand, and mornings made of them."""

from __future__ import annotations

from typing import Any

import pandas as pd

from district.results import Basis, Events
from district.schema.columns import Table, empty
from district.schema.event_tables import (
    BUILDING_CHECKS,
    EVENTS,
    REPAIR_CHECKS,
    SENSOR_CHECKS,
    TOLD,
    WATCHED,
)
from district.watch import alarms_now, compare


def of(table: Table, *rows: dict[str, Any]) -> pd.DataFrame:
    """Rows as a frame with exactly the declared columns, dates and numbers as such."""
    if not rows:
        return empty(table)
    frame = pd.DataFrame(rows).reindex(columns=list(table.names()))
    for column in table.columns:
        if column.kind == "date":
            frame[column.name] = pd.to_datetime(frame[column.name])
        elif column.kind in ("real", "whole"):
            frame[column.name] = frame[column.name].astype(float)
    return frame


def around(name: str, value: float, half: float) -> dict[str, float]:
    """An estimate with its limits."""
    return {name: value, f"{name}_low": value - half, f"{name}_high": value + half}


def event(place_id: str = "Z1", start: str = "2031-03-10", **columns: Any) -> dict[str, Any]:
    """An open leak of 1 L/s in a zone, known to two nights."""
    night = pd.Timestamp(start)
    size = columns.pop("size", 1.0)
    return {
        "event_id": f"E-{place_id}-{start}",
        "place_kind": "zone",
        "place_id": place_id,
        "cell_id": place_id,
        "kind": "leak",
        "reason": "night flow rose",
        "state": "open",
        "start": night,
        "start_low": night - pd.Timedelta(days=1),
        "start_high": night + pd.Timedelta(days=1),
        "since_first": night - pd.Timedelta(days=3),
        "since_last": night + pd.Timedelta(days=1),
        **around("size_l_s", size, 0.1),
        "act": True,
        **columns,
    }


def check(device_id: str = "M1", **columns: Any) -> dict[str, Any]:
    """A building meter that never stands still."""
    return {
        "device_id": device_id,
        "building_id": "Hall",
        "cell_id": "Z1",
        "rests_on": "intervals",
        "first": "2031-01-01",
        "since": "2031-03-10",
        **around("constant_l_s", 0.02, 0.005),
        "verdict": "constant_flow",
        "said": "as much as a running toilet",
        "act": True,
        **columns,
    }


def repair(verdict: str = "verified", **columns: Any) -> dict[str, Any]:
    """A repair in zone Z1 of 20 March."""
    return {
        "place_id": "Z1",
        "event_id": "E-Z1-2031-03-10",
        "work": "repair of 2031-03-20",
        "repaired": "2031-03-20",
        **around("drop_l_s", 0.9, 0.1),
        **around("remaining_l_s", 0.1, 0.1),
        "verdict": verdict,
        "said": "night flow fell",
        **columns,
    }


def sensor(verdict: str = "flapping", **columns: Any) -> dict[str, Any]:
    """A wet-floor sensor that cannot be believed."""
    return {
        "sensor_id": "W1",
        "kind": "wet_floor",
        "cell_id": "Z1",
        "last_reading": "2031-03-31",
        "verdict": verdict,
        "said": "40 alarms in 3 days",
        **columns,
    }


def events_of(
    events: tuple[dict[str, Any], ...] = (),
    checks: tuple[dict[str, Any], ...] = (),
    repairs: tuple[dict[str, Any], ...] = (),
    sensors: tuple[dict[str, Any], ...] = (),
) -> Events:
    """What happened, of these rows."""
    return Events(
        of(EVENTS, *events),
        Basis(),
        building_checks=of(BUILDING_CHECKS, *checks),
        repair_checks=of(REPAIR_CHECKS, *repairs),
        sensor_checks=of(SENSOR_CHECKS, *sensors),
    )


def places(**judged: bool) -> pd.DataFrame:
    """Zones Z1 and Z2, meters M1 and M2 and sensor W1; those not `judged` are said so."""
    rows = [("zone", "Z1", "zone Upper"), ("zone", "Z2", "zone Lower")]
    rows += [("meter", "M1", "building Hall (meter M1)"), ("meter", "M2", "meter M2")]
    rows += [("sensor", "W1", "sensor W1")]
    found = of(
        WATCHED,
        *(
            {"place_kind": k, "place_id": i, "place": p, "cell_id": "Z1", "blinds": ""}
            for k, i, p in rows
        ),
    )
    found["judged"] = [judged.get(i, True) for _, i, _ in rows]
    return found


def now(
    found: Events,
    *,
    last: str = "2031-03-31",
    silent: pd.DataFrame | None = None,
    known: pd.DataFrame | None = None,
) -> Any:
    """The alarms there are."""
    return alarms_now(
        found,
        empty(TOLD) if silent is None else silent,
        places() if known is None else known,
        last=pd.Timestamp(last).date(),
        currency="EUR",
    )


class Mornings:
    """One morning after another, each against what was told with the one before."""

    def __init__(self) -> None:
        self.told: pd.DataFrame | None = None

    def tell(self, found: Events, last: str, **others: Any) -> pd.DataFrame:
        """Table MORNING with the data to night `last`; the next is held against it."""
        silent = others.get("silent")
        judged = others.get("places", places())
        morning, self.told = compare(
            self.told,
            now(found, last=last, silent=silent),
            judged,
            last=pd.Timestamp(last).date(),
            edition_utc=pd.Timestamp(f"{last} 06:00", tz="UTC"),
        )
        return morning

    def news(self, found: Events, last: str, **others: Any) -> dict[str, str]:
        """alarm_id -> news."""
        morning = self.tell(found, last, **others)
        return dict(zip(morning["alarm_id"], morning["news"], strict=True))
