"""The result tables as CSV: plain values, names from the schema, Unix line ends.

A spreadsheet runs a cell that begins with = + - or @ as a formula, even text that came from a
file name or a map. Such text gets an apostrophe before it; numbers are left as they are, and ids
of ordinary shape too. Who reads the files by program strips one leading apostrophe from text.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pandas as pd

from district.files import write_text
from district.render.findings import as_table
from district.results import DistrictReport
from district.schema import (
    annual_tables,
    audited,
    event_tables,
    isolate_tables,
    located,
    night_tables,
    outputs,
    pressures,
    reconciled,
    stored,
)
from district.schema.columns import Column, Table
from district.words import day, missing

_RISKY = ("=", "+", "-", "@", "\t", "\r", "'")
DEFAULTS = Table(
    "defaults",
    "values taken where the input left a cell empty",
    (
        Column("table", "text", "table of the input"),
        Column("column", "text", "its column"),
        Column("rows_count", "whole", "rows left empty", low=0),
        Column("value", "text", "value taken"),
    ),
)


def result_tables(report: DistrictReport) -> Iterator[tuple[Table, pd.DataFrame]]:
    """Every declared result table with its rows, in the order of the schema."""
    balance, location = report.balance, report.location
    frames = {
        outputs.ZONES.name: balance.zones,
        event_tables.EVENTS.name: report.events.events,
        event_tables.EVENT_CAUSES.name: report.events.causes,
        event_tables.REPAIR_CHECKS.name: report.events.repair_checks,
        event_tables.BUILDING_CHECKS.name: report.events.building_checks,
        event_tables.SENSOR_CHECKS.name: report.events.sensor_checks,
        event_tables.SHUTOFF_SETTINGS.name: report.shut_off.settings,
        event_tables.SHUTOFF_CURVE.name: report.shut_off.curve,
        outputs.STRETCHES.name: location.stretches,
        outputs.LIKELIHOOD.name: location.likelihood,
        outputs.SEARCH_SETS.name: location.search_sets,
        located.EVIDENCE.name: location.evidence,
        located.LOGGER_CHECKS.name: location.logger_checks,
        located.CALIBRATION.name: location.calibration,
        located.DETECTABILITY.name: location.detectability,
        located.ZONE_REACH.name: location.zone_reach,
        located.NEXT_DEVICES.name: location.next_devices,
        located.NIGHT_NOISE.name: report.events.night_noise,
        outputs.NIGHTS.name: balance.nights,
        outputs.DAYS.name: balance.days,
        outputs.ANNUAL.name: balance.annual,
        outputs.INDICATORS.name: balance.indicators,
        night_tables.SEVEN_NIGHTS.name: balance.seven_nights,
        night_tables.NIGHT_PERIODS.name: balance.night_periods,
        night_tables.NIGHT_USERS.name: balance.night_users,
        annual_tables.LOSS_GAPS.name: balance.loss_gaps,
        annual_tables.GAP_CAUSES.name: balance.gap_causes,
        annual_tables.ECONOMICS.name: balance.economics,
        reconciled.METER_CHECKS.name: balance.meter_checks,
        reconciled.ZONE_CHECKS.name: balance.zone_checks,
        reconciled.WITHOUT_METER.name: balance.without_meter,
        audited.AUDIT.name: balance.audit,
        audited.IMPROVEMENTS.name: balance.improvements,
        outputs.FINDINGS.name: as_table(report.findings),
        pressures.ZONE_PRESSURE.name: balance.zone_pressure,
        pressures.ZONE_EXPONENTS.name: balance.zone_exponents,
    }
    isolation = report.isolation
    frames |= {
        isolate_tables.SEGMENTS.name: isolation.segments,
        isolate_tables.SEGMENT_PIPES.name: isolation.segment_pipes,
        isolate_tables.SEGMENT_LOSSES.name: isolation.segment_losses,
        isolate_tables.VALVE_LOSSES.name: isolation.valve_losses,
    }
    for table in outputs.OUTPUTS:
        yield table, frames[table.name].reindex(columns=list(table.names()))
    for table, frame in ((stored.DEVICE_QUALITY, report.quality), (DEFAULTS, report.defaults)):
        yield table, frame.reindex(columns=list(table.names()))


def write_tables(report: DistrictReport, folder: Path) -> tuple[Path, ...]:
    """One CSV a table into `folder`. Raises `OutputError` where it cannot be written."""
    written = []
    for table, frame in result_tables(report):
        path = folder / f"{table.name}.csv"
        write_text(path, as_csv(table, frame))
        written.append(path)
    return tuple(written)


def as_csv(table: Table, frame: pd.DataFrame, *, line_end: str = "\n") -> str:
    """The table as CSV text: dates as YYYY-MM-DD, instants in UTC, flags as true and false."""
    plain = pd.DataFrame(
        {c.name: frame[c.name].map(_writer(c)) for c in table.columns}, dtype=object
    )
    return str(plain.to_csv(index=False, lineterminator=line_end))


def guarded(text: str) -> str:
    """Text that no spreadsheet runs.

    >>> guarded("=SUM(A1)"), guarded("P12"), guarded("it's")
    ("'=SUM(A1)", 'P12', "it's")
    """
    return f"'{text}" if text.startswith(_RISKY) else text


def _writer(column: Column) -> Any:
    def written(value: Any) -> str:
        if missing(value):
            return ""
        if column.kind == "real":
            return f"{float(value):.10g}"
        if column.kind == "whole":
            return f"{float(value):.0f}"
        if column.kind == "flag":
            return "true" if value else "false"
        if column.kind == "date":
            return day(value)
        if column.kind == "time":
            return str(pd.Timestamp(value).isoformat())
        return guarded(str(value))

    return written
