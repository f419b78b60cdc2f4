"""Buildings: which meters and sensors belong together, and wet-floor alarms as events."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from district.network import Network
from district.words import day

JOIN_DAYS = 30
"""A wet floor and a building's flow this close in time speak for each other."""
_SAME_ALARM = pd.Timedelta(days=2)
_FRESH = pd.Timedelta(days=2)


@dataclass(frozen=True)
class Spell:
    """A wet-floor alarm, spells of one sensor within two days taken together; local dates."""

    sensor_id: str
    first: pd.Timestamp
    last: pd.Timestamp
    wet_h: float
    open: bool


def meter_buildings(network: Network) -> dict[str, str]:
    """Building of each meter, as the connections say: meter_id -> building_id."""
    known = network.connections[["meter_id", "building_id"]].fillna("")
    known = known[(known["meter_id"] != "") & (known["building_id"] != "")]
    return dict(zip(known["meter_id"], known["building_id"], strict=True))


def sensor_buildings(network: Network) -> dict[str, str]:
    """Building of each sensor that has one: sensor_id -> building_id."""
    if "building_id" not in network.sensors:
        return {}
    known = network.sensors["building_id"].dropna()
    return {str(s): str(b) for s, b in known[known != ""].items()}


def spells(
    alarms: pd.DataFrame, *, clock: ZoneInfo, last_known: pd.Timestamp | None
) -> tuple[Spell, ...]:
    """Alarms of each sensor, joined where they follow within two days, oldest first.

    `alarms` is the stored table (UTC). A spell is open if it still lasted two days before
    `last_known`, the local date of the latest data.
    """
    done: list[Spell] = []
    for sensor, rows in alarms.groupby("device_id", sort=True):
        rows = rows.sort_values("start_utc")
        begin, end, wet = None, None, 0.0
        for row in rows.itertuples():
            if end is not None and row.start_utc - end > _SAME_ALARM:
                done.append(_spell(str(sensor), begin, end, wet, clock, last_known))
                begin, end, wet = None, None, 0.0
            begin = row.start_utc if begin is None else begin
            end = row.end_utc if end is None else max(end, row.end_utc)
            wet += (row.end_utc - row.start_utc).total_seconds() / 3600
        if end is not None:
            done.append(_spell(str(sensor), begin, end, wet, clock, last_known))
    return tuple(sorted(done, key=lambda s: (s.first, s.sensor_id)))


def _spell(
    sensor: str, begin: Any, end: Any, wet_h: float, clock: ZoneInfo, known: pd.Timestamp | None
) -> Spell:
    first, last = (
        pd.Timestamp(t).tz_convert(clock).tz_localize(None).normalize() for t in (begin, end)
    )
    return Spell(sensor, first, last, wet_h, known is None or last >= known - _FRESH)


def wet_rows(
    found: tuple[Spell, ...],
    *,
    network: Network,
    flows: pd.DataFrame,
) -> pd.DataFrame:
    """Wet-floor alarms as rows of EVENTS, with the building's flow event named where there is one.

    `flows` holds the events of buildings (table EVENTS). Sizes stay empty: a wet floor tells
    nothing of the flow.
    """
    homes, meters = sensor_buildings(network), meter_buildings(network)
    cells = network.sensors["cell_id"] if "cell_id" in network.sensors else pd.Series(dtype=object)
    rows: list[dict[str, Any]] = []
    for spell in found:
        building = homes.get(spell.sensor_id, "")
        reason = f"water on the floor{f' of building {building}' if building else ''}"
        reason += f", first on {day(spell.first)}"
        other = joined(building, spell.first, flows, meters)
        if other is not None:
            reason += (
                f"; the night flow of the building's meter {other['place_id']} rose "
                f"on {day(other['start'])}"
            )
        elif building:
            reason += "; no lasting rise at a meter of the building within 30 days"
        rows.append(
            {
                "place_kind": "sensor",
                "place_id": spell.sensor_id,
                "cell_id": cells.get(spell.sensor_id, "") or "",
                "kind": "wet_floor",
                "reason": reason,
                "state": "open" if spell.open else "ended",
                "start": spell.first,
                "start_low": spell.first,
                "start_high": spell.first,
                "detected": spell.first,
                "end": pd.NaT if spell.open else spell.last,
                "growth_l_s_d": np.nan,
            }
        )
    return pd.DataFrame(rows)


def joined(
    building: str, date: pd.Timestamp, flows: pd.DataFrame, meters: Mapping[str, str]
) -> pd.Series[Any] | None:
    """The flow event of `building` nearest in time to `date`, within 30 days of its run."""
    if not building or flows.empty:
        return None
    own = flows[
        (flows["place_id"].map(meters) == building) & (flows["kind"] == "building_flow")
    ].copy()
    margin = pd.Timedelta(days=JOIN_DAYS)
    own = own[(own["start"] - margin <= date) & (own["end"].isna() | (own["end"] >= date - margin))]
    if own.empty:
        return None
    return own.iloc[int((own["start"] - date).abs().to_numpy().argmin())]
