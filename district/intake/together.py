"""The parts of the devices' records put together: quality, and one finding for each defect."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import pandas as pd

from district.errors import Finding
from district.intake.agreement import disagreeing
from district.intake.cleaned import Told
from district.intake.devices import Device
from district.intake.drift import Walk, walking
from district.intake.kind_of import Moves, unlike_its_kind
from district.intake.notes import placed, said_of
from district.intake.premises import told_empty
from district.intake.rows import disordered
from district.intake.spells import quality_of, whole_records
from district.intake.tallies import Tally, together

IntervalsOf = Callable[[Sequence[str]], pd.DataFrame]
"""Table INTERVALS of some devices."""


def put_together(
    spells: pd.DataFrame,
    days: pd.DataFrame,
    told: Told,
    devices: Mapping[str, Device],
    intervals_of: IntervalsOf,
) -> tuple[pd.DataFrame, tuple[Finding, ...]]:
    """Table DEVICE_QUALITY, and the findings of rows and devices, not yet grouped.

    `spells` and `days` are tables SPELLS and RATE_DAYS of all parts, `told` what these told, all
    in order of time. `intervals_of` is asked for devices whose premises stood empty.
    """
    records = whole_records(spells)
    notes: dict[str, list[Finding]] = defaultdict(list)
    tallies: dict[str, list[Tally]] = defaultdict(list)
    for device_id, note in told.notes:
        notes[device_id].append(note)
    for device_id, tally in told.tallies:
        tallies[device_id].append(tally)
    by_day = {str(i): d for i, d in days.groupby("device_id", observed=True)}
    passed = _passed(records, devices, intervals_of)
    suspects = {*notes, *tallies, *by_day, *passed, *_suspect(records, devices)}
    findings = [*disordered(told.disorder, devices), *dict.fromkeys(told.findings)]
    for row in records[records["device_id"].isin(suspects)].itertuples(index=False):
        device = devices[row.device_id]
        said = _of_kind(device, row)
        said += [f for t in together(tallies[row.device_id]) for f in said_of(device, t)]
        said += dict.fromkeys(notes[row.device_id])
        if row.device_id in by_day:
            said += disagreeing(
                by_day[row.device_id],
                resolution_m3=row.resolution_m3,
                error_share=device.error_share,
            )
        said += _walk(row) + passed.get(row.device_id, [])
        findings += placed(said, device, source=row.source)
    return quality_of(records), tuple(findings)


def _suspect(records: pd.DataFrame, devices: Mapping[str, Device]) -> list[str]:
    """Devices of which the counts alone may tell something."""
    odd = (records["falls_count"] > 0) | (records["off_s"].abs() > 0) | records["broken"].notna()
    rises = (records["kind"] != "register") & (records["moved_count"] > 0)
    odd |= rises & (records["falls_count"] == 0)
    return [str(i) for i in records.loc[odd, "device_id"] if i in devices]


def _of_kind(device: Device, row: Any) -> list[Finding]:
    moves = Moves(
        int(row.readings_count), int(row.moved_count), int(row.falls_count), float(row.broken)
    )
    return unlike_its_kind(device, moves)


def _walk(row: Any) -> list[Finding]:
    if math.isnan(row.meant_s):
        return []
    return walking(
        Walk(
            row.meant_s,
            int(row.steps_count),
            int(row.near_count),
            row.off_s,
            int(row.later_count),
            int(row.sooner_count),
        )
    )


def _passed(
    records: pd.DataFrame, devices: Mapping[str, Device], intervals_of: IntervalsOf
) -> dict[str, list[Finding]]:
    """What passed while premises stood empty."""
    asked = [i for i in records["device_id"] if devices[i].empty and devices[i].word == "meter"]
    if not asked:
        return {}
    rows = records.set_index("device_id")
    found: dict[str, list[Finding]] = {}
    of_device = dict(list(intervals_of(asked).groupby("device_id", observed=True)))
    for device_id in asked:
        device, row = devices[device_id], rows.loc[device_id]
        own = of_device.get(device_id)
        if own is None:
            continue
        own = own.sort_values("start_utc")
        found[device_id] = told_empty(
            pd.DatetimeIndex(own["start_utc"]).as_unit("us").asi8,
            pd.DatetimeIndex(own["end_utc"]).as_unit("us").asi8,
            own["volume_m3"].to_numpy(dtype=float),
            device.empty,
            resolution_m3=float(row["resolution_m3"]),
            error_share=device.error_share,
            timezone=device.timezone,
            whole=(float(row["known_m3"]), float(row["known_h"])),
        )
    return found
