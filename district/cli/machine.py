"""Objects for machines: what `--json` prints."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime, time
from pathlib import Path
from typing import Any

import pandas as pd

from district.cli.locate_tables import SHOWN
from district.errors import Finding
from district.results import (
    Balance,
    Basis,
    DistrictReport,
    Events,
    Isolation,
    Ledger,
    Location,
    ShutOff,
)
from district.schema.event_tables import SHUTOFF_CAUTION
from district.schema.isolate_tables import CASCADE_CAUTION, ISOLATION_CAUTION
from district.shutting import IsolationPlan
from district.stepping import StepTest
from district.surveying import Surveyed
from district.words import CAUTION, PRESSURE_CAUTION

_ROWS_AT_ONCE = 5_000
LONG = ("nights", "days", "seven_nights", "night_periods")
"""Tables with rows by night, left to `district balance --json` and the CSV tables."""


def records(frame: pd.DataFrame) -> list[dict[str, Any]]:
    """A table as objects, empty values as null, times as ISO 8601."""
    return [{k: _jsonable(v) for k, v in row.items()} for row in frame.to_dict("records")]


def _jsonable(value: Any) -> Any:
    if value is None or value is pd.NaT or (isinstance(value, float) and not math.isfinite(value)):
        return None
    if isinstance(value, datetime):
        # Local dates are kept as midnights without a zone; an instant keeps its time.
        whole = value.tzinfo is None and value.time() == time.min
        return value.date().isoformat() if whole else value.isoformat()
    if isinstance(value, date):
        return value.isoformat()
    return value.item() if hasattr(value, "item") else value


def findings_object(found: Sequence[Finding]) -> dict[str, Any]:
    """Findings for machines."""
    return {"findings": [{**vars(f), "sentence": f.sentence()} for f in found]}


def tables_object(tables: Mapping[str, pd.DataFrame], rests_on: Basis) -> dict[str, Any]:
    """Tables for machines, to be put into words by `pieces`, with what they rest on."""
    return {
        **tables,
        "basis": {k: _jsonable(v) if isinstance(v, date) else v for k, v in vars(rests_on).items()},
    }


def balance_tables(balance: Balance) -> dict[str, pd.DataFrame]:
    """Every table of the balance under the name it has for machines; the audit has its own
    command."""
    return {
        "zones": balance.zones,
        "meter_checks": balance.meter_checks,
        "zone_checks": balance.zone_checks,
        "without_meter": balance.without_meter,
        "annual_balance": balance.annual,
        "indicators": balance.indicators,
        "loss_gaps": balance.loss_gaps,
        "gap_causes": balance.gap_causes,
        "economics": balance.economics,
        "zone_pressure": balance.zone_pressure,
        "zone_exponents": balance.zone_exponents,
        "night_users": balance.night_users,
        "night_periods": balance.night_periods,
        "seven_nights": balance.seven_nights,
        "nights": balance.nights,
        "days": balance.days,
    }


def event_tables(events: Events) -> dict[str, pd.DataFrame]:
    """Events and what goes with them under the names they have for machines."""
    return {
        "events": events.events,
        "event_causes": events.causes,
        "repair_checks": events.repair_checks,
        "building_checks": events.building_checks,
        "sensor_checks": events.sensor_checks,
    }


def location_tables(events: Events, location: Location) -> dict[str, pd.DataFrame]:
    """What is looked for, where, and what told it, under the names they have for machines."""
    return {
        "events": events.events,
        "search_sets": location.search_sets,
        "evidence": location.evidence,
        "stretches": location.stretches,
        "likelihood": location.likelihood,
        "logger_checks": location.logger_checks,
        "calibration": location.calibration,
    }


def reach_tables(location: Location) -> dict[str, pd.DataFrame]:
    """What would be shown of the next leak, and where to add a device."""
    return {
        "zone_reach": location.zone_reach,
        "next_devices": location.next_devices,
        "detectability": location.detectability,
    }


def plan_object(found: IsolationPlan) -> dict[str, Any]:
    """The plan to shut off a target."""
    plan, pressure = found.plan, found.pressure
    return {
        "target": found.target,
        "said": list(plan.said),
        "caution": plan.caution,
        "sources": list(plan.sources),
        "valves": plan.valves,
        "areas": plan.areas,
        "pipes": plan.pipes,
        "users": plan.users,
        "failures": plan.failures,
        "pressures": None if pressure is None else pressure.table,
        "pressures_rest_on": [found.pressure_missing] if pressure is None else pressure.assumed,
        "pressures_caution": PRESSURE_CAUTION,
        "cascade": found.cascade,
        "cascade_caution": CASCADE_CAUTION,
        "leak_segments": found.leak_segments,
    }


def step_test_object(found: StepTest) -> dict[str, Any]:
    """The plan of a step test, and what earlier ones read."""
    plan = found.plan
    return {
        "zone": found.cell_id,
        "name": found.name,
        "caution": plan.caution,
        "said": list(plan.said),
        "plan": plan.plan,
        "sections": plan.sections,
        "pipes": plan.pipes,
        "users": plan.users,
        "walk_before_m": list(plan.walk_before_m),
        "walk_after_m": list(plan.walk_after_m),
        "proven": plan.proven,
        "rests_on": list(found.rests_on),
        "results": found.results,
        "results_rest_on": list(found.results_rest_on),
    }


def valves_object(found: Isolation) -> dict[str, Any]:
    """How a map is parted by its valves, and which of them matter."""
    return {
        "segments": found.segments,
        "segment_losses": found.segment_losses,
        "valve_losses": found.valve_losses,
        "new_valves": pd.DataFrame(found.new_valves.drop(columns="geometry")),
        "caution": ISOLATION_CAUTION,
        **findings_object(found.findings),
    }


def survey_object(found: Surveyed, paths: Sequence[Path]) -> dict[str, Any]:
    """The walk of a crew, never without the caution; each listening point with its degrees."""
    walk = found.walk
    at = walk.points.geometry.to_crs("EPSG:4326")
    placed = walk.points.assign(longitude_deg=at.x.round(7), latitude_deg=at.y.round(7))
    told = {
        "legs": walk.legs,
        "paths": walk.paths,
        "listening_points": placed,
        "set_ups": walk.set_ups,
    }
    return {
        "caution": walk.caution,
        "said": list(walk.said),
        "shifts": walk.shifts,
        "rounds": walk.rounds,
        **{name: pd.DataFrame(table.drop(columns="geometry")) for name, table in told.items()},
        **tables_object({}, walk.basis),
        "files": [str(p) for p in paths],
    }


def shutoff_object(found: ShutOff) -> dict[str, Any]:
    """When valves should shut by themselves, never without the caution."""
    told = {"shutoff_settings": found.settings, "shutoff_curve": found.curve}
    return {"caution": SHUTOFF_CAUTION, **tables_object(told, found.basis)}


def ledger_object(found: Ledger, *tables: str) -> dict[str, Any]:
    """Some tables of the ledger by their names there, never without the caution."""
    told = {name: getattr(found, name) for name in tables}
    return {"caution": CAUTION, **tables_object(told, found.basis)}


def report_object(report: DistrictReport, paths: Sequence[Path]) -> dict[str, Any]:
    """Everything `district report` says, for machines."""
    found = balance_tables(report.balance)
    for long in LONG:
        del found[long]
    tables = {
        **found,
        **event_tables(report.events),
        "shutoff_settings": report.shut_off.settings,
        "search_sets": report.location.search_sets,
        "evidence": report.location.evidence,
        "stretches": report.location.stretches.head(SHOWN),
        "zone_reach": report.location.zone_reach,
        "next_devices": report.location.next_devices,
        "improvements": report.balance.improvements,
    }
    return {
        "name": report.name,
        **tables_object(tables, report.balance.basis),
        **findings_object(report.findings),
        "files": [str(p) for p in paths],
    }


def to_json(thing: Mapping[str, Any]) -> str:
    """JSON text without NaN, in ASCII: no terminal's or shell's encoding can harm it."""
    return "".join(pieces(thing))


def pieces(thing: Mapping[str, Any]) -> Iterator[str]:
    """The same text piece by piece: a year of nights of many zones is never held as text."""
    yield "{"
    for n, (name, value) in enumerate(thing.items()):
        yield f"{',' * (n > 0)}\n {json.dumps(name)}: "
        if not isinstance(value, pd.DataFrame) or value.empty:
            plain = [] if isinstance(value, pd.DataFrame) else value
            yield json.dumps(plain, indent=1, allow_nan=False).replace("\n", "\n ")
            continue
        for first in range(0, len(value), _ROWS_AT_ONCE):
            yield ("," if first else "[") + _rows(value.iloc[first : first + _ROWS_AT_ONCE])
        yield "\n ]"
    yield "\n}" if thing else "}"


def _rows(frame: pd.DataFrame) -> str:
    """Rows as objects, column by column: many times quicker than row by row."""
    lines = [
        [f"\n   {json.dumps(str(name))}: {text}" for text in _texts(column)]
        for name, column in frame.items()
    ]
    return ",".join("\n  {" + ",".join(row) + "\n  }" for row in zip(*lines, strict=True))


def _texts(column: pd.Series[Any]) -> list[str]:
    if column.dtype == float:
        return [float.__repr__(v) if math.isfinite(v) else "null" for v in column.tolist()]
    if column.dtype == object and not all(isinstance(value, str) for value in column):
        return [_text(value) for value in column]
    # Names and dates come again and again: each is put into words once.
    codes, values = pd.factorize(column)
    texts = [*map(_text, values), "null"]
    return [texts[code] for code in codes]


def _text(value: Any) -> str:
    return json.dumps(_jsonable(value), indent=1, allow_nan=False).replace("\n", "\n   ")
