"""The whole balance of a district."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.balance.annual import DISTRICT
from district.balance.audit import audit_table, improvements
from district.balance.days import daily_balance
from district.balance.economics import survey_economics
from district.balance.estimated import fill_missing, mark_estimated
from district.balance.exponents import exponents_said
from district.balance.gap import explain_gap
from district.balance.grids import days_of, rows_of, text
from district.balance.gross import gross_of
from district.balance.indicators import BAND_RULES
from district.balance.meter_errors import MeterErrors, below_q1
from district.balance.metering import Metering, metering
from district.balance.nested import reconcile_meters
from district.balance.night import night_balance
from district.balance.night_users import night_users
from district.balance.night_window import GAPS_SHOWN
from district.balance.one_pressure import at_one_pressure
from district.balance.performance import annual_indicators
from district.balance.periods import night_periods, seven_nights
from district.balance.pressure import zone_pressures
from district.balance.pressure_saving import zone_pressure
from district.balance.storage import storage_said, with_storage
from district.balance.summary import zone_summary
from district.balance.volumes import COVERAGE_NEEDED, Volumes, daily_volumes
from district.balance.year import annual_balance
from district.errors import StageError
from district.estimates import Array
from district.network import Network
from district.results import Balance, Basis, Reduced
from district.schema.audited import AUDIT
from district.schema.columns import Table, empty
from district.schema.outputs import ANNUAL, DAYS, INDICATORS, NIGHTS, ZONES
from district.schema.pressures import ZONE_EXPONENTS, ZONE_PRESSURE
from district.schema.reconciled import METER_CHECKS, WITHOUT_METER, ZONE_CHECKS
from district.settings import Settings
from district.words import listed, percent


def district_balance(
    network: Network,
    reduced: Reduced,
    *,
    settings: Settings,
    works: pd.DataFrame,
    audited: bool = False,
    nightly: bool = False,
) -> Balance:
    """Night, daily and annual balance of every zone whose inflow is fully metered.

    Parameters: `reduced` tables of `schema.stored`, `works` table WORKS (start and end in UTC or
    naive local time), `audited` whether tables AUDIT and IMPROVEMENTS are wanted too, `nightly`
    whether only what tells events of nights is: then the tables of calendar periods, of users, of
    the gap, of savings and of surveys are empty, all others the same. No input is written to.

    Returns tables NIGHTS, DAYS, ZONES (worst first), ANNUAL and INDICATORS (district first),
    ZONE_PRESSURE and ZONE_EXPONENTS, and the basis. Raises `StageError` when no zone can be
    balanced or no zone meter has readings.
    """
    layout = metering(network)
    filled = fill_missing(network, reduced, layout=layout)
    given, rolling = filled.reduced, settings.night.window == "rolling"
    reduced = with_storage(network, given, rolling=rolling)
    volumes = daily_volumes(network, layout, reduced.daily_volumes, settings=settings)
    flows = reduced.night_flows
    at_edge = flows.iloc[rows_of(flows["device_id"], layout.meters)[0]]
    nights = days_of(at_edge.loc[at_edge["flow_l_s"].notna(), "night"].unique())
    if not len(volumes.days) and not len(nights):
        raise StageError(
            f"No zone meter ({listed(layout.meters)}) has a usable night or day of readings: "
            "nothing can be balanced. Check the device_id of the readings against meter_id."
        )
    ends = [*nights, *volumes.days]
    days = pd.date_range(min(ends), max(ends), freq="D").as_unit("us")
    pressures, assumed = zone_pressures(
        network, reduced.hourly_pressures, settings=settings, cells=layout.cells, days=days
    )
    night = night_balance(
        network, given, settings=settings, works=works, pressures=pressures, layout=layout
    )
    night = mark_estimated(night, filled)
    night, pressures, exponents = at_one_pressure(
        network,
        reduced.hourly_pressures,
        night,
        pressures=pressures,
        settings=settings,
        cells=layout.cells,
    )
    daily = daily_balance(network, volumes, nights=night.nights, pressures=pressures, layout=layout)
    zones = zone_summary(
        network, night, volumes=volumes, pressures=pressures, settings=settings, layout=layout
    )
    annual, yearly = annual_balance(
        network,
        volumes=volumes,
        night=night,
        pressures=pressures,
        settings=settings,
        layout=layout,
    )
    indicators = annual_indicators(
        network, annual, pressures=pressures, settings=settings, layout=layout
    )
    stored, hourless = storage_said(network, layout.cells, rolling=rolling)
    beside = {}
    if not nightly:
        saving = zone_pressure(zones, pressures=pressures, exponents=exponents, settings=settings)
        gaps, causes = explain_gap(
            annual,
            layout=layout,
            volumes=volumes,
            night=night,
            night_flows=flows,
            settings=settings,
        )
        beside = {
            "seven_nights": seven_nights(night, cells=layout.cells),
            "night_periods": night_periods(night, cells=layout.cells),
            "night_users": night_users(network, reduced, night, settings=settings),
            "loss_gaps": gaps,
            "gap_causes": causes,
            "economics": survey_economics(zones, night.nights, settings=settings),
            "zone_pressure": _declared(ZONE_PRESSURE, saving),
        }
    nested = reconcile_meters(
        network,
        reduced,
        night=night,
        volumes=volumes,
        pressures=pressures,
        days=days,
        settings=settings,
        layout=layout,
    )
    basis = Basis(
        first=min(ends).date(),
        last=max(ends).date(),
        meters=(*layout.meters, *sorted({*night.interval_meters, *volumes.devices.ids})),
        assumptions=(
            *night.assumptions,
            *filled.assumptions,
            *volumes.assumptions,
            *stored,
            *assumed,
            *exponents_said(exponents),
            *yearly,
        ),
        limits=(
            *night.limits,
            *hourless,
            *_limits(layout, volumes, zones, reduced, settings),
            *_below_nothing(indicators),
            *nested.limits,
        ),
    )
    audit = empty(AUDIT)
    if audited:
        audit = audit_table(
            network,
            layout=layout,
            night=night,
            volumes=volumes,
            pressures=pressures,
            zones=zones,
            annual=annual,
            indicators=indicators,
            settings=settings,
        )
    return Balance(
        nights=_declared(NIGHTS, night.nights),
        days=_declared(DAYS, daily),
        zones=_declared(ZONES, zones),
        annual=_declared(ANNUAL, annual),
        indicators=_declared(INDICATORS, indicators),
        basis=basis,
        zone_exponents=_declared(ZONE_EXPONENTS, exponents),
        **beside,
        meter_checks=_declared(METER_CHECKS, nested.meter_checks),
        zone_checks=_declared(ZONE_CHECKS, nested.zone_checks),
        without_meter=_declared(WITHOUT_METER, nested.without_meter),
        audit=audit,
        improvements=improvements(audit),
    )


def _declared(table: Table, frame: pd.DataFrame) -> pd.DataFrame:
    return frame[list(table.names())]


def _limits(
    layout: Metering,
    volumes: Volumes,
    zones: pd.DataFrame,
    reduced: Reduced,
    settings: Settings,
) -> list[str]:
    said = list(volumes.limits)
    empty = pd.isna(volumes.inflow_m3).sum(axis=0)
    gaps = listed(
        (f"{c} ({int(n)})" for c, n in zip(layout.cells, empty, strict=True) if n), shown=GAPS_SHOWN
    )
    if gaps:
        said.append(
            f"Days without a complete inflow are left empty: {gaps}, of {len(volumes.days)}; each "
            f"zone meter must be read for at least {percent(COVERAGE_NEEDED)} of the day."
        )
    steps = reduced.quality.loc[reduced.quality["resolution_m3"].notna(), "device_id"]
    unknown = sorted(set(layout.meters) - set(text(steps)))
    if unknown:
        said.append(f"Smallest step of {listed(unknown)} unknown: none is put into the limits.")
    slow = [
        meter
        for ids, errors in (
            (layout.meters, layout.errors),
            (volumes.devices.ids, volumes.devices.errors),
        )
        for meter in ids[below_q1(_usual_l_s(reduced.night_flows, ids, errors), errors)]
    ]
    if slow:
        said.append(
            f"At night {listed(slow)} usually {'runs' if len(slow) == 1 else 'run'} below the "
            "minimum flow Q1 of the plate, where the error is not known: what is lacking to Q1 is "
            "put into the limits."
        )
    _, least_m, most_m = BAND_RULES[settings.country_group]
    outside = zones.loc[~zones["pressure_m"].between(least_m, most_m), "cell_id"]
    if len(outside):
        said.append(
            f"No target band for {listed(outside)}: the published table covers {least_m:g} to "
            f"{most_m:g} m of pressure."
        )
    under = zones["leakage_l_s_high"] >= 0
    under &= zones["excess_l_s_high"] == 0
    if under.any():
        said.append(
            f"Night leakage of {listed(zones.loc[under, 'cell_id'])} is below the background "
            "expected, beyond its limits: condition_factor is set too high for it, or a meter or "
            "an allowance is not as recorded."
        )
    below = zones.loc[zones["leakage_l_s_high"] < 0, "cell_id"]
    if len(below):
        said.append(
            f"Night leakage of {listed(below)} is below zero beyond its limits: a meter, a shut "
            "valve or an allowance is not as recorded."
        )
    return said


def _usual_l_s(flows: pd.DataFrame, ids: pd.Index[Any], errors: MeterErrors) -> Array:
    """Median night flow either way of the meters whose plate tells Q1, NaN for the others."""
    plate = np.flatnonzero(errors.q1_l_s > 0)
    usual = np.full(len(ids), np.nan)
    if len(plate):
        own = flows.iloc[rows_of(flows["device_id"], ids[plate])[0]]
        either_way = gross_of(own, net="flow_l_s", gross="gross_l_s")
        middle = either_way.groupby(text(own["device_id"])).median()
        usual[plate] = middle.reindex(ids[plate]).to_numpy(dtype=float)
    return usual


def _below_nothing(indicators: pd.DataFrame) -> list[str]:
    """What a year of less than no losses says: no district can have it."""
    areas = indicators.loc[indicators["real_losses_m3_high"] < 0, "cell_id"]
    if areas.empty:
        return []
    names = listed("the district" if a == DISTRICT else a for a in areas)
    return [
        f"Annual balance: real losses of {names} are below zero beyond their limits: a "
        "zone meter reads low, or an allowance or a meter of users is not as recorded."
    ]
