"""Meters, loggers and whole files that have sent nothing for longer than is usual of them."""

from __future__ import annotations

from typing import Any
from zoneinfo import ZoneInfo

import pandas as pd

from district.schema.columns import empty
from district.schema.event_tables import TOLD
from district.schema.ids import held
from district.words import day, listed, plural

STEPS = 3.0
"""A device is silent after so many of its usual intervals without a reading ..."""
AT_LEAST_H = 48.0
"""... and no sooner than this: exports of a day come at other hours."""
BY_ITSELF_H = 7 * 24.0
"""Who is read more seldom is read on foot: late, but not broken."""


def latest_reading(quality: pd.DataFrame) -> pd.Timestamp | None:
    """The last reading of all (`quality` is DEVICE_QUALITY), UTC; None where there is none."""
    last = quality["last_utc"].dropna()
    return None if last.empty else pd.Timestamp(last.max())


def silent_devices(
    quality: pd.DataFrame, places: pd.DataFrame, *, latest: pd.Timestamp | None, clock: ZoneInfo
) -> pd.DataFrame:
    """Devices that fell silent as rows of table TOLD, nothing yet told of them.

    `quality` is DEVICE_QUALITY, `places` WATCHED. A device is silent where its last reading lies
    more than `STEPS` of its usual intervals, and `AT_LEAST_H`, before `latest`, the last reading
    of all: the clock of the computer plays no part. Where every device of a file or pattern of
    files is silent, and there are several, the file is told once instead of each.
    """
    known = quality[quality["last_utc"].notna() & held(quality["device_id"], places["place_id"])]
    if latest is None or known.empty:
        return empty(TOLD)
    since_h = (latest - known["last_utc"]).dt.total_seconds() / 3600.0
    silent = since_h > (STEPS * known["step_h"].fillna(0.0)).clip(lower=AT_LEAST_H)
    if not silent.any():
        return empty(TOLD)
    devices = places[places["place_kind"] != "zone"].drop_duplicates("place_id")
    found = known.assign(
        silent=silent,
        since=known["last_utc"].dt.tz_convert(clock).dt.tz_localize(None).dt.normalize(),
    ).merge(devices, left_on="device_id", right_on="place_id", how="inner")
    by_file = found.groupby("source")["silent"].agg(["all", "size"])
    whole = set(by_file.index[by_file["all"] & (by_file["size"] > 1)])
    hit = found[found["silent"]]
    in_whole = hit["source"].isin(whole)
    rows = [_device(row) for row in hit[~in_whole].to_dict("records")]
    rows += [_file(str(source), group) for source, group in hit[in_whole].groupby("source")]
    return pd.DataFrame(rows).reindex(columns=list(TOLD.names()))


def _device(row: dict[str, Any]) -> dict[str, Any]:
    blinds = str(row["blinds"])
    said = f"No reading of {row['place']} since {day(row['since'])}"
    own = f"its usual interval is {_interval(float(row['step_h']))}" if row["step_h"] > 0 else ""
    reason = [f"{own}. " if own else "", _by_hand(row)]
    if blinds:
        said += f": {blinds} blind, new leaks there do not show"
        reason.append(" Its zones have no balance after that day.")
    return {
        "about": "device",
        "place_id": row["place_id"],
        "place": row["place"],
        "cell_id": row["cell_id"],
        "kind": "silent",
        "state": "open",
        "start": row["since"],
        "start_low": row["since"],
        "start_high": row["since"],
        "headline": f"{said}.",
        "reason": _sentence("".join(reason)),
        "rank": 1.0 if blinds else 5.0,
        "act": bool(row["step_h"] <= BY_ITSELF_H),
        "match": f"device|{row['place_id']}",
        "alarm_id": f"D-{row['place_id']}-{day(row['since'])}",
        "over": False,
    }


def _file(source: str, group: pd.DataFrame) -> dict[str, Any]:
    since = group["since"].max()
    zones = sorted({z for z in group["blinds"] if z})
    said = f"No reading in {source} since {day(since)}: all {plural(len(group), 'device')} silent"
    if zones:
        said += f"; {listed(zones)} blind, new leaks there do not show"
    return {
        "about": "device",
        "place_id": source,
        "place": source,
        "cell_id": group["cell_id"].iloc[0] if group["cell_id"].nunique() == 1 else "",
        "kind": "silent",
        "state": "open",
        "start": since,
        "start_low": since,
        "start_high": since,
        "headline": f"{said}.",
        "reason": f"Of {listed(group['device_id'])} none was read: more likely the export, a "
        "gateway or the file's name than each of them.",
        "rank": 1.0 if zones else 5.0,
        "act": bool((group["step_h"] <= BY_ITSELF_H).any()),
        "match": f"device|file|{source}",
        "alarm_id": f"D-{source}-{day(since)}",
        "over": False,
    }


def _by_hand(row: dict[str, Any]) -> str:
    if row["step_h"] > BY_ITSELF_H:
        return "It is read on foot: a round may have passed it by."
    return "Look to its battery, its link and the export."


def _interval(step_h: float) -> str:
    if step_h < 1.0:
        return plural(round(60 * step_h), "minute")
    return (
        plural(round(step_h), "hour") if step_h < BY_ITSELF_H else plural(round(step_h / 24), "day")
    )


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]
