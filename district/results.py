"""What stages return: frozen, tables only (declared in `schema`), and what each rests on."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

import geopandas as gpd
import pandas as pd

from district.errors import Finding
from district.schema import (
    annual_tables,
    audited,
    entry_forms,
    event_tables,
    field_records,
    inputs,
    isolate_tables,
    ledger_tables,
    located,
    night_tables,
    outputs,
    pressures,
    reconciled,
    stored,
)
from district.schema.columns import empty


def no_repairs(crs: Any = None) -> gpd.GeoDataFrame:
    """Table REPAIRS without rows."""
    return gpd.GeoDataFrame(empty(outputs.REPAIRS), geometry="geometry", crs=crs)


def no_streets(crs: Any = None) -> gpd.GeoDataFrame:
    """Table STREETS without rows."""
    return gpd.GeoDataFrame(empty(inputs.STREETS), geometry="geometry", crs=crs)


def no_surfaces(crs: Any = None) -> gpd.GeoDataFrame:
    """Table SURFACES without rows."""
    return gpd.GeoDataFrame(empty(inputs.SURFACES), geometry="geometry", crs=crs)


@dataclass(frozen=True)
class Basis:
    """What a result rests on, said to people beside it."""

    first: date | None = None
    last: date | None = None
    meters: tuple[str, ...] = ()
    assumptions: tuple[str, ...] = ()
    """Defaults and allowances applied, one sentence each."""
    limits: tuple[str, ...] = ()
    """Findings that limit the result, one sentence each."""


@dataclass(frozen=True, eq=False)
class Inputs:
    """The user's layers and records, checked: declared columns only, one metric CRS.

    Every layer is indexed 0..n-1 with its id in a column, except where stated otherwise.
    """

    pipes: gpd.GeoDataFrame
    valves: gpd.GeoDataFrame
    meters: gpd.GeoDataFrame
    zones: gpd.GeoDataFrame
    connections: gpd.GeoDataFrame
    sensors: gpd.GeoDataFrame
    sources: gpd.GeoDataFrame
    works: pd.DataFrame
    breaks: pd.DataFrame
    defaults: pd.DataFrame
    """table, column, rows_count, value: which defaults were used where."""
    findings: tuple[Finding, ...] = ()
    files: dict[str, str] = field(default_factory=dict)
    """Table name -> file it came from, for messages."""
    surveys: pd.DataFrame = field(default_factory=lambda: empty(field_records.SURVEYS))
    step_tests: pd.DataFrame = field(default_factory=lambda: empty(field_records.STEP_TESTS))
    correlations: pd.DataFrame = field(default_factory=lambda: empty(field_records.CORRELATIONS))
    sightings: pd.DataFrame = field(default_factory=lambda: empty(field_records.SIGHTINGS))
    streets: gpd.GeoDataFrame = field(default_factory=no_streets)
    surfaces: gpd.GeoDataFrame = field(default_factory=no_surfaces)
    entries: pd.DataFrame = field(default_factory=lambda: empty(entry_forms.ENTRIES))
    """Forms that crews filled in; `intake.with_entries` adds them to the records above."""


@dataclass(frozen=True)
class FileRead:
    """What reading one file to its end told, beside its rows."""

    findings: tuple[Finding, ...] = ()
    readings_count: int = 0
    named_by_file: bool = False
    """The file says nothing of devices; its name does."""
    units: tuple[tuple[str, str, str, str], ...] = ()
    """'value' or 'rate', device ('' for all), unit of these and the heading that tells it."""


@dataclass(frozen=True, eq=False)
class Readings:
    """Readings of some devices or of all in one form.

    Tables INTERVALS, SAMPLES, DEVICE_QUALITY of `schema.stored`.
    """

    intervals: pd.DataFrame
    samples: pd.DataFrame
    quality: pd.DataFrame
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, eq=False)
class Reduced:
    """Readings reduced by the store (tables of `schema.stored`)."""

    quality: pd.DataFrame
    night_flows: pd.DataFrame
    night_minima: pd.DataFrame
    daily_volumes: pd.DataFrame
    hourly_pressures: pd.DataFrame
    alarms: pd.DataFrame
    acoustic_nights: pd.DataFrame = field(default_factory=lambda: empty(stored.ACOUSTIC_NIGHTS))
    lowest_hours: pd.DataFrame = field(default_factory=lambda: empty(stored.LOWEST_HOURS))
    """Empty unless the night window of the settings rolls."""


@dataclass(frozen=True, eq=False)
class Balance:
    """Night and annual balance: tables NIGHTS, DAYS, ZONES, ANNUAL, INDICATORS of
    `schema.outputs`, and those of `schema.night_tables`, `schema.pressures`, `schema.reconciled`
    and `schema.annual_tables`; where asked for, what each figure is made of (`schema.audited`).
    """

    nights: pd.DataFrame
    days: pd.DataFrame
    zones: pd.DataFrame
    annual: pd.DataFrame
    indicators: pd.DataFrame
    basis: Basis
    zone_pressure: pd.DataFrame = field(default_factory=lambda: empty(pressures.ZONE_PRESSURE))
    zone_exponents: pd.DataFrame = field(default_factory=lambda: empty(pressures.ZONE_EXPONENTS))
    seven_nights: pd.DataFrame = field(default_factory=lambda: empty(night_tables.SEVEN_NIGHTS))
    night_periods: pd.DataFrame = field(default_factory=lambda: empty(night_tables.NIGHT_PERIODS))
    night_users: pd.DataFrame = field(default_factory=lambda: empty(night_tables.NIGHT_USERS))
    loss_gaps: pd.DataFrame = field(default_factory=lambda: empty(annual_tables.LOSS_GAPS))
    gap_causes: pd.DataFrame = field(default_factory=lambda: empty(annual_tables.GAP_CAUSES))
    economics: pd.DataFrame = field(default_factory=lambda: empty(annual_tables.ECONOMICS))
    meter_checks: pd.DataFrame = field(default_factory=lambda: empty(reconciled.METER_CHECKS))
    zone_checks: pd.DataFrame = field(default_factory=lambda: empty(reconciled.ZONE_CHECKS))
    without_meter: pd.DataFrame = field(default_factory=lambda: empty(reconciled.WITHOUT_METER))
    audit: pd.DataFrame = field(default_factory=lambda: empty(audited.AUDIT))
    improvements: pd.DataFrame = field(default_factory=lambda: empty(audited.IMPROVEMENTS))


@dataclass(frozen=True, eq=False)
class Events:
    """Leak events and alarms (table EVENTS), the noise they were found in (NIGHT_NOISE), what each
    may be and what repairs did, and what building meters and alarm sensors show
    (`schema.event_tables`)."""

    events: pd.DataFrame
    basis: Basis
    night_noise: pd.DataFrame = field(default_factory=lambda: empty(located.NIGHT_NOISE))
    causes: pd.DataFrame = field(default_factory=lambda: empty(event_tables.EVENT_CAUSES))
    repair_checks: pd.DataFrame = field(default_factory=lambda: empty(event_tables.REPAIR_CHECKS))
    building_checks: pd.DataFrame = field(
        default_factory=lambda: empty(event_tables.BUILDING_CHECKS)
    )
    sensor_checks: pd.DataFrame = field(default_factory=lambda: empty(event_tables.SENSOR_CHECKS))


@dataclass(frozen=True, eq=False)
class ShutOff:
    """When valves that shut by themselves should trip (SHUTOFF_SETTINGS, SHUTOFF_CURVE)."""

    settings: pd.DataFrame = field(default_factory=lambda: empty(event_tables.SHUTOFF_SETTINGS))
    curve: pd.DataFrame = field(default_factory=lambda: empty(event_tables.SHUTOFF_CURVE))
    basis: Basis = field(default_factory=Basis)


@dataclass(frozen=True, eq=False)
class Morning:
    """What is new against the data before (table MORNING), and what it rests on; `told` is all
    that was ever told (TOLD), `before` the last night of the data before, None on a first run,
    `readings_to` the last reading (UTC), `edition` the same, but a second after the edition before
    where it is no later."""

    name: str
    currency: str
    timezone: str
    morning: pd.DataFrame
    events: Events
    basis: Basis
    shut_off: ShutOff = field(default_factory=ShutOff)
    findings: tuple[Finding, ...] = ()
    told: pd.DataFrame = field(default_factory=lambda: empty(event_tables.TOLD))
    before: date | None = None
    readings_to: datetime | None = None
    edition: datetime | None = None


@dataclass(frozen=True, eq=False)
class Location:
    """Leak likelihood by part and stretch of pipe (LIKELIHOOD, STRETCHES, SEARCH_SETS), and what
    told it (`schema.located`)."""

    likelihood: pd.DataFrame
    stretches: pd.DataFrame
    search_sets: pd.DataFrame
    basis: Basis
    evidence: pd.DataFrame = field(default_factory=lambda: empty(located.EVIDENCE))
    logger_checks: pd.DataFrame = field(default_factory=lambda: empty(located.LOGGER_CHECKS))
    calibration: pd.DataFrame = field(default_factory=lambda: empty(located.CALIBRATION))
    detectability: pd.DataFrame = field(default_factory=lambda: empty(located.DETECTABILITY))
    zone_reach: pd.DataFrame = field(default_factory=lambda: empty(located.ZONE_REACH))
    next_devices: pd.DataFrame = field(default_factory=lambda: empty(located.NEXT_DEVICES))
    ahead: Basis = field(default_factory=Basis)
    """What the last three tables rest on."""


@dataclass(frozen=True, eq=False)
class Ledger:
    """What became of the leaks (`schema.ledger_tables`): each repair (VERIFICATIONS), each leak
    (LEDGER), each year of them (LEDGER_YEARS, LEDGER_GROUPS); `places` says what people call a zone
    or the building of a meter, by its id."""

    name: str
    currency: str
    places: dict[str, str]
    verifications: pd.DataFrame
    leaks: pd.DataFrame = field(default_factory=lambda: empty(ledger_tables.LEDGER))
    years: pd.DataFrame = field(default_factory=lambda: empty(ledger_tables.LEDGER_YEARS))
    groups: pd.DataFrame = field(default_factory=lambda: empty(ledger_tables.LEDGER_GROUPS))
    basis: Basis = field(default_factory=Basis)


@dataclass(frozen=True, eq=False)
class Layers:
    """Geometry for maps and open-format layers, one metric CRS.

    pipes: pipe_id, layer_pipe_id, cell_id, material, diameter_mm, installed_year, length_m;
    zones: cell_id, name; valves: valve_id, kind, state, operable; meters: meter_id, role, kind,
    upstream_cell_id, downstream_cell_id; sensors: sensor_id, kind, cell_id;
    connections: connection_id, cell_id, pipe_id, use_class, properties, critical, building_id;
    sources: source_id, head_m; repairs: table REPAIRS.
    """

    pipes: gpd.GeoDataFrame
    zones: gpd.GeoDataFrame
    valves: gpd.GeoDataFrame
    meters: gpd.GeoDataFrame
    sensors: gpd.GeoDataFrame
    connections: gpd.GeoDataFrame
    sources: gpd.GeoDataFrame
    repairs: gpd.GeoDataFrame = field(default_factory=no_repairs)


def _no_valves() -> gpd.GeoDataFrame:
    return gpd.GeoDataFrame(empty(isolate_tables.NEW_VALVES), geometry="geometry")


@dataclass(frozen=True, eq=False)
class Isolation:
    """How the map is parted by its valves (`schema.isolate_tables`): SEGMENTS, SEGMENT_PIPES,
    SEGMENT_LOSSES, VALVE_LOSSES, NEW_VALVES. From the map alone."""

    segments: pd.DataFrame = field(default_factory=lambda: empty(isolate_tables.SEGMENTS))
    segment_pipes: pd.DataFrame = field(default_factory=lambda: empty(isolate_tables.SEGMENT_PIPES))
    segment_losses: pd.DataFrame = field(
        default_factory=lambda: empty(isolate_tables.SEGMENT_LOSSES)
    )
    valve_losses: pd.DataFrame = field(default_factory=lambda: empty(isolate_tables.VALVE_LOSSES))
    new_valves: gpd.GeoDataFrame = field(default_factory=_no_valves)
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, eq=False)
class DistrictReport:
    """Everything the pages show."""

    name: str
    currency: str
    timezone: str
    layers: Layers
    balance: Balance
    events: Events
    location: Location
    quality: pd.DataFrame
    defaults: pd.DataFrame
    findings: tuple[Finding, ...]
    shut_off: ShutOff = field(default_factory=ShutOff)
    isolation: Isolation = field(default_factory=Isolation)
