"""Alarm sensors that cannot be believed: they chatter, stick, or have fallen silent.

Every number here is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Collection
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from district.detect.building import sensor_buildings
from district.network import Network
from district.schema.columns import empty
from district.schema.event_tables import SENSOR_CHECKS
from district.schema.inputs import ALARM_KINDS
from district.schema.stored import DEVICE_QUALITY
from district.words import brief, day, plural

CHATTERS, CHATTERS_A_DAY = 6, 4
"""Turned from dry to wet so often within a spell, and so often a day or for no more than `SHORT_H`
each time, a sensor chatters."""
SHORT_H, CROWD, CROWD_D = 1.0, 4, 120
"""Spells of one reading, or no longer than that, come too often where so many fall within so many
days."""
STICKS_D = 14
"""Wet so long without one dry reading, and wet still, a sensor may stick."""
SILENT_H, SILENT_STEPS, FEWEST_READINGS = 48.0, 4.0, 10
"""Silent after so long, and after so many of the intervals between its own readings, which are
known from so many readings on."""
_RECENT_D = 90
_WHY = {
    "wet_floor": "condensation or a loose lead",
    "leak_cable": "condensation or a loose lead",
    "chamber_float": "a sump pump that starts and stops, or a float that catches",
}
Bools = np.ndarray[Any, np.dtype[np.bool_]]


def weak_spells(spells: pd.DataFrame) -> Bools:
    """Which spells of one sensor are chatter, not water; table ALARMS in order of time.

    A spell is that turns wet again and again within it, or a short one that comes in a crowd of
    its like.
    """
    lasted_d = (spells["end_utc"] - spells["start_utc"]) / pd.Timedelta(days=1)
    a_day = spells["onsets_count"] / lasted_d.clip(lower=1.0)
    brief_each = spells["alarm_h"] / spells["onsets_count"] <= SHORT_H
    often = spells["onsets_count"] >= CHATTERS
    chatter = often & ((a_day >= CHATTERS_A_DAY) | brief_each)
    short = (spells["readings_count"] <= 1) | (spells["alarm_h"] <= SHORT_H)
    at = spells["start_utc"].to_numpy(dtype="datetime64[us]").astype(np.int64) / 86_400e6
    times = np.sort(at[short.to_numpy()])
    crowded = np.zeros(len(times), dtype=bool)
    if len(times) >= CROWD:
        together = times[CROWD - 1 :] - times[: 1 - CROWD] <= CROWD_D
        for n in range(CROWD):
            crowded[n : n + len(together)] |= together
    return np.asarray(chatter.to_numpy() | (short.to_numpy() & np.isin(at, times[crowded])))


def check_sensors(
    alarms: pd.DataFrame,
    quality: pd.DataFrame | None,
    *,
    network: Network,
    clock: ZoneInfo,
    spoken_for: Collection[str] = (),
) -> pd.DataFrame:
    """Table SENSOR_CHECKS: each sensor that gives alarm, and whether it can be believed.

    Parameters: `alarms` table ALARMS, `quality` table DEVICE_QUALITY; without it only sensors that
    gave alarm are told of, and none is taken for silent. The interval at which a sensor reports is
    taken from its own record: the mean between its readings, or its usual one if that is longer.
    `spoken_for` are sensors whose present alarm a change of flow speaks for: they do not stick.
    """
    sensors = network.sensors[network.sensors["kind"].isin(ALARM_KINDS)]
    homes = sensor_buildings(network)
    read = (empty(DEVICE_QUALITY) if quality is None else quality).set_index("device_id")
    by_sensor = {str(s): rows.sort_values("start_utc") for s, rows in alarms.groupby("device_id")}
    latest = max([*read["last_utc"].dropna(), *alarms["end_utc"].dropna()], default=pd.NaT)
    rows = []
    for sensor_id, sensor in sensors.sort_index().iterrows():
        name, kind = str(sensor_id), str(sensor["kind"])
        spells = by_sensor.get(name, alarms.iloc[:0])
        if quality is None and spells.empty:
            continue
        record = read.loc[name] if name in read.index else None
        last = spells["end_utc"].max() if record is None else record["last_utc"]
        verdict, said = _judged(kind, spells, record, last, latest, clock, known=quality is None)
        if verdict == "always_on" and name in spoken_for:
            verdict, said = "sound", "Wet still, and a change of flow speaks for it"
        rows.append(
            {
                "sensor_id": name,
                "kind": kind,
                "building_id": homes.get(name, ""),
                "cell_id": sensor.get("cell_id", "") or "",
                "spells_count": float(len(spells)),
                "alarm_h": float(spells["alarm_h"].sum()),
                "last_reading": _local(last, clock),
                "verdict": verdict,
                "said": said,
            }
        )
    if not rows:
        return empty(SENSOR_CHECKS)
    found = pd.DataFrame(rows)[list(SENSOR_CHECKS.names())]
    found["last_reading"] = pd.to_datetime(found["last_reading"]).dt.normalize()
    found["last_reading"] = found["last_reading"].astype("datetime64[us]")
    return found


def _judged(
    kind: str,
    spells: pd.DataFrame,
    record: Any,
    last: pd.Timestamp,
    latest: pd.Timestamp,
    clock: ZoneInfo,
    *,
    known: bool,
) -> tuple[str, str]:
    """Verdict and sentence of one sensor."""
    if record is None and not known:
        return "silent", "It was never read: nothing is watched there. Look whether it is connected"
    wet_to_the_last = len(spells) > 0 and spells["end_utc"].max() >= last
    step_h = _step_h(record)
    quiet_h = (latest - last) / pd.Timedelta(hours=1)
    if step_h is not None and quiet_h > max(SILENT_H, SILENT_STEPS * step_h):
        drowned = ", and it stood wet then: look there first" if wet_to_the_last else ""
        return "silent", (
            f"Not read since {day(_local(last, clock))}, though it used to report about every "
            f"{_interval(step_h)}{drowned}. Until it reports again nothing is watched there"
        )
    weak = weak_spells(spells)
    recent = spells["end_utc"] >= latest - pd.Timedelta(days=_RECENT_D)
    if (weak & recent.to_numpy()).any():
        own = spells[weak]
        first, end = (day(_local(t, clock)) for t in (own["start_utc"].min(), own["end_utc"].max()))
        when = f"on {first}" if first == end else f"from {first} to {end}"
        return "flapping", (
            f"It turned wet {plural(int(own['onsets_count'].sum()), 'time')} {when}, as with "
            f"{_WHY[kind]}: all of that counts as one weak alarm. Look at the sensor itself"
        )
    if wet_to_the_last:
        present = spells.iloc[-1]
        lasted = last - present["start_utc"]
        if present["onsets_count"] == 1 and lasted >= pd.Timedelta(days=STICKS_D):
            return "always_on", (
                f"Wet at every reading since {day(_local(present['start_utc'], clock))}: water "
                "nobody took away, or a sensor that sticks. Look at the place, then at the sensor"
            )
    if spells.empty:
        return "sound", "No alarm in its record"
    return "sound", (
        f"{plural(len(spells), 'alarm')} in its record, the last on "
        f"{day(_local(spells['end_utc'].max(), clock))}"
    )


def _step_h(record: Any) -> float | None:
    """Hours between its readings, if enough of them tell; none for a sensor never read."""
    if record is None or record["readings_count"] < FEWEST_READINGS:
        return None
    span_h = (record["last_utc"] - record["first_utc"]) / pd.Timedelta(hours=1)
    return float(np.nanmax([span_h / (record["readings_count"] - 1), record["step_h"]]))


def _interval(hours: float) -> str:
    if hours < 1:
        return f"{brief(60 * hours)} min"
    return f"{brief(hours)} h" if hours < 48 else f"{brief(hours / 24)} days"


def _local(time: pd.Timestamp, clock: ZoneInfo) -> pd.Timestamp:
    return pd.NaT if pd.isna(time) else time.tz_convert(clock).tz_localize(None)
