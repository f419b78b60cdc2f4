"""The year's figures of the district and each zone, from daily volumes and nights."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.balance.annual import (
    DISTRICT,
    SOURCES,
    YEAR_D,
    annual_table,
    assumed_parts,
    complete_balance,
    summed_apart,
    summed_as_one,
    with_district,
    yearly,
)
from district.balance.apportion import losses_by_part
from district.balance.grids import wide, wide_estimate
from district.balance.indicators import ratio
from district.balance.metering import Metering, metering
from district.balance.night import NightBalance
from district.balance.performance import year_pressure
from district.balance.summary import nights_of_year
from district.balance.traded import bought, source_lines, supplied
from district.balance.use import day_use
from district.balance.volumes import Volumes
from district.estimates import (
    Z_95,
    Array,
    Estimate,
    combine_limits,
    estimate,
    from_deviation,
    multiply_limits,
    scaled,
)
from district.network import Network
from district.schema.columns import empty
from district.schema.ids import held
from district.schema.outputs import ANNUAL
from district.settings import Settings
from district.units import M3_PER_L_S_H
from district.words import brief, listed, percent

LEAST_DAYS = 300
"""Fewer days than this do not show all seasons."""


def annual_balance(
    network: Network,
    *,
    volumes: Volumes,
    night: NightBalance,
    pressures: pd.DataFrame,
    settings: Settings,
    layout: Metering | None = None,
) -> tuple[pd.DataFrame, tuple[str, ...]]:
    """Table ANNUAL of the last 365 days, and what it assumes.

    `layout` is that of the network, made here if not given.

    Each cell's means over the days with a known inflow are scaled to 365 days; cells without a
    known day are left out. The district is the sum of its cells: a meter between two of them
    cancels, so the limits of its input come from the outer meters alone; shares and allowances
    are one assumption for all cells, so their limits add. What an outlet meter lets out of the
    district is input that was sold on: it stands in the system input and in the exported water.
    """
    layout = layout or metering(network)
    counted = counted_days(volumes)
    known = counted.any(axis=0)
    if not known.any():
        return empty(ANNUAL), ("Annual balance: no complete day of inflow in any zone.",)
    cells = layout.cells[known]
    parts, totals = supplied(network, layout, volumes, counted=counted, known=known)
    used, customers = _used(layout, volumes, counted, known, settings)
    metered = used["billed_metered"].value + used["unbilled_metered"].value
    assumed = assumed_parts(
        parts["system_input"].value, customers, metered=metered, annual=settings.annual
    )
    assumed["unbilled_unmetered"] = combine_limits(
        assumed["unbilled_unmetered"], used.pop("unbilled_allowed")
    )
    bottom, totals["bottom_up"] = _bottom_up(night, layout.cells, known)
    parts |= used | assumed | {"bottom_up": bottom}
    for name in ("billed_metered", "unbilled_metered"):
        totals[name] = summed_apart(parts[name])
    both = {
        name: with_district(part, totals[name] if name in totals else summed_as_one(part))
        for name, part in parts.items()
    }
    lines = complete_balance(both)
    lines |= losses_by_part(
        network,
        supply=lines["system_input"],
        real=lines["real"],
        pressure=year_pressure(pressures, layout.cells, cells=cells),
        cells=cells,
        settings=settings,
    )
    imported, strange = bought(layout, volumes, counted=counted, known=known, settings=settings)
    if imported is not None:
        lines |= source_lines(lines["system_input"], imported)
    table = annual_table(
        pd.Index([DISTRICT, *cells], dtype=object),
        {n: yearly(p) for n, p in lines.items()},
        costs=settings.costs,
    )
    # Who sold the water is told of the district alone.
    untold = table["volume_m3"].isna() & table["component"].isin(SOURCES)
    said = (*_said(counted, known, layout, settings), *strange, *_nightless(cells, bottom))
    return table[~untold].reset_index(drop=True), said


def counted_days(volumes: Volumes) -> Any:
    """Days x cells: the days with a known inflow among the last 365 of the calendar."""
    counted = np.isfinite(volumes.inflow_m3)
    # The same last 365 calendar days for all cells, so that flows between them cancel.
    counted[: max(0, len(volumes.days) - YEAR_D)] = False
    return counted


def _used(
    layout: Metering,
    volumes: Volumes,
    counted: Any,
    known: Any,
    settings: Settings,
) -> tuple[dict[str, Estimate], Array]:
    """Mean daily metered and allowed use of the known cells, billed and not, and what customers'
    meters have of it."""
    users = volumes.devices
    days_count = np.maximum(counted.sum(axis=0), 1)
    use = (
        np.where(counted[:, users.cell], volumes.user_m3, 0.0).sum(axis=0) / days_count[users.cell]
    )
    unbilled = list(settings.annual.unbilled_classes)
    of_class = layout.users["use_class"].isin(unbilled)
    free = of_class.groupby(layout.users["meter_id"]).all().reindex(users.ids).to_numpy(dtype=bool)

    def metered(which: Any) -> Estimate:
        # A user draws in spurts: the mean flow tells nothing of the flow at which its meter counts.
        taken = use * which
        deviation = np.sqrt(users.inside @ (taken * users.error_share / Z_95) ** 2)
        return from_deviation((users.inside @ taken)[known], deviation[known])

    def allowed(which: Any) -> Estimate:
        found = day_use(bare[which], layout.cells, settings=settings)
        return from_deviation(found.mean[known], found.systematic[known])

    bare = layout.users[~held(layout.users["meter_id"], users.ids)]
    given = bare["use_class"].isin(unbilled)
    parts = {
        "billed_metered": metered(~free),
        "billed_unmetered": allowed(~given),
        "unbilled_metered": metered(free),
        "unbilled_allowed": allowed(given),
    }
    return parts, np.asarray(users.inside @ (use * users.customer))[known]


def _bottom_up(night: NightBalance, cells: pd.Index[Any], known: Any) -> tuple[Estimate, Estimate]:
    """Mean daily leakage over the year's usable nights, of the known cells and of them together."""
    chosen = nights_of_year(night.nights, cells)[:, known]
    count = chosen.sum(axis=0).astype(float)

    def mean(values: Array) -> Array:
        return ratio(np.where(chosen, values[:, known], 0.0).sum(axis=0), count)

    flow = mean(wide(night.nights, "leakage_l_s", cells))
    systematic = mean(wide(night.spreads, "leakage_systematic_l_s", cells))
    random = mean(wide(night.spreads, "leakage_random_l_s", cells)) / np.sqrt(np.maximum(count, 1))
    factor = Estimate(
        *(mean(x) for x in wide_estimate(night.nights, "night_day_factor_h_d", cells))
    )
    daily = mean(wide(night.nights, "leakage_m3_d", cells))
    limits = multiply_limits(from_deviation(flow, np.hypot(systematic, random)), factor)
    # Days of high factor and of high leakage need not coincide: the value is the mean of the
    # days' own products, the limits keep their distance from it.
    moved = scaled(limits, M3_PER_L_S_H)
    shift = daily - moved.value
    each = Estimate(daily, moved.low + shift, moved.high + shift)
    # Allowances and the pressure exponent are one assumption for all: their limits add.
    there = np.isfinite(each.value)
    whole = summed_as_one(Estimate(*(p[there] for p in each)))
    return each, whole if there.any() else estimate(np.nan)


def _nightless(cells: pd.Index[Any], bottom: Estimate) -> tuple[str, ...]:
    """What the district's bottom-up figure leaves out."""
    lacking = cells[np.isnan(bottom.value)]
    said = (
        f"Annual balance: no usable night in the year in {listed(lacking)}, which the district's "
        "real losses from night flows leave out."
    )
    return (said,) if 0 < len(lacking) < len(cells) else ()


def _said(counted: Any, known: Any, layout: Metering, settings: Settings) -> tuple[str, ...]:
    a = settings.annual
    said = [
        f"Annual balance: unbilled unmetered use {percent(a.unbilled_unmetered_share)} and "
        f"unauthorised use {percent(a.unauthorised_share)} of system input, customers' meters "
        f"(not those of buildings) read {percent(a.customer_under_registration_share)} low, "
        f"each ±{percent(a.assumed_spread_share)}; billing loses "
        f"{percent(a.data_handling_share)} of metered use "
        f"±{percent(a.data_handling_spread_share)} of it.",
        "Annual balance: real losses are apportioned to mains and service pipes by published "
        "components, not measured; what storage leaks and spills is taken as "
        f"{brief(a.tank_losses_m3_d)} m³ a day.",
    ]
    if a.unbilled_classes:
        strange = sorted(set(a.unbilled_classes) - set(layout.users["use_class"]))
        said.append(f"Annual balance: use of {listed(a.unbilled_classes)} is not billed.")
        if strange:
            said.append(
                f"Annual balance: no connection is of the unbilled class {listed(strange)}."
            )
    days = counted.sum(axis=0)
    if days[known].min() < YEAR_D:
        least, most = int(days[known].min()), int(days[known].max())
        many = f"{least}" if least == most else f"{least} to {most}"
        season = " Seasons not covered are not known." if least < LEAST_DAYS else ""
        said.append(
            f"Annual balance: {many} days with a complete inflow are scaled to 365.{season}"
        )
    without = layout.cells[~known]
    if len(without):
        said.append(f"Annual balance: no complete day of inflow in {', '.join(without)}.")
    return tuple(said)
