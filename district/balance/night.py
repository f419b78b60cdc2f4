"""The night balance: inflow, legitimate use, leakage, background and excess of every night."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from district.balance.background import background_limits
from district.balance.grids import days_of, grid, long, wide, wide_estimate
from district.balance.gross import night_grids
from district.balance.limits import lumpy_use_deviation_l_s, lumpy_use_third, skewed_limits
from district.balance.measured_use import measured_use
from district.balance.meter_errors import error_l_s
from district.balance.metering import Metering, metering
from district.balance.night_window import (
    PICKED,
    at_lowest_hours,
    gaps_said,
    nights_of,
    picked_hours,
    window_hours,
)
from district.balance.noise import night_scatter_l_s, step_deviation_l_s
from district.balance.pressure import zone_pressures
from district.balance.storage import with_storage
from district.balance.use import Use, night_use
from district.balance.works import works_by_night
from district.estimates import (
    Z_95,
    Array,
    Estimate,
    combine_limits,
    from_deviation,
    multiply_limits,
    not_below_zero,
    scaled,
)
from district.network import Network
from district.results import Reduced
from district.schema.ids import held
from district.settings import Settings
from district.units import M3_PER_L_S_H


@dataclass(frozen=True, eq=False)
class NightBalance:
    """Table NIGHTS, and beside it what its limits are made of.

    `spreads`: cell_id, night, and for the minimum, each use and leakage the standard deviation,
    L/s, of the part common to all nights (systematic) and of the part that changes from night to
    night (random). `edges`: nights x meters of `layout`, flow and 95 % limit of its error, L/s;
    `layout` is that of the night window.
    """

    nights: pd.DataFrame
    spreads: pd.DataFrame
    layout: Metering
    edges: Estimate
    allowed: Use
    interval_meters: tuple[str, ...]
    assumptions: tuple[str, ...]
    limits: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class _Part:
    """Nights x cells: mean flow and its two standard deviations, L/s; third moment, (L/s)³."""

    flow: Array
    systematic: Array
    random: Array
    third: Array | float = 0.0

    def limits(self) -> Estimate:
        return skewed_limits(self.flow, np.hypot(self.systematic, self.random), self.third)


def night_balance(
    network: Network,
    reduced: Reduced,
    *,
    settings: Settings,
    works: pd.DataFrame,
    pressures: pd.DataFrame | None = None,
    layout: Metering | None = None,
) -> NightBalance:
    """Balance every balanced cell on every night from the first to the last of its meters.

    `layout` is that of the network, made here if not given.

    Parameters: `reduced` tables of `schema.stored`; `works` table WORKS; `pressures` from
    `zone_pressures` covering the nights, made here if not given.

    Inflow is the signed sum of the zone meters, leakage is inflow less legitimate use and may be
    negative (it is then within its limits of zero, or a meter or allowance is wrong). Of its
    random part the larger counts: what the components make, or what neighbouring nights show. A
    night on which one zone meter is missing has status no_inflow and no figures. Where the window
    of the settings rolls, each cell is balanced over its own lowest hour (table LOWEST_HOURS),
    whose inflow and allowed use are set right for having been picked as the lowest.
    """
    layout = layout or metering(network)
    rolling = settings.night.window == "rolling"
    reduced = with_storage(network, reduced, rolling=rolling)
    nights = nights_of(layout, reduced)
    if rolling:
        layout, reduced = at_lowest_hours(layout, reduced)
    if pressures is None:
        hourly, cells = reduced.hourly_pressures, layout.cells
        pressures, _ = zone_pressures(network, hourly, settings=settings, cells=cells, days=nights)
    pressures = pressures[days_of(pressures["day"]).isin(nights)]
    window_h = window_hours(reduced.night_flows, nights, settings=settings)[:, None]
    inflow, edges = _inflow(layout, reduced, nights, window_h)
    shown, meters, said = measured_use(network, layout, reduced, nights=nights, window_h=window_h)
    measured = _Part(*shown)
    bare = layout.users[~held(layout.users["meter_id"], meters)]
    use = night_use(bare, layout.cells, homes=layout.homes, settings=settings)
    shape = inflow.flow.shape
    allowed = _Part(
        np.broadcast_to(use.mean, shape),
        np.broadcast_to(use.systematic, shape),
        lumpy_use_deviation_l_s(use.burst, window_h=window_h),
        lumpy_use_third(use.cube, spread_l3_s2=use.unsure, window_h=window_h),
    )
    during, lost = works_by_night(
        network, works, settings=settings, cells=layout.cells, nights=nights
    )
    usable = during.to_numpy() == ""
    if rolling:
        picked = picked_hours(
            layout,
            reduced.quality,
            settings=settings,
            use_l_s=allowed.flow,
            use_deviation_l_s=allowed.random,
            noise_deviation_l_s=inflow.random,
            other_deviation_l_s=night_scatter_l_s(measured.flow, usable=usable),
            seen_deviation_l_s=night_scatter_l_s(inflow.flow - measured.flow, usable=usable),
        )
        inflow = replace(inflow, flow=inflow.flow + picked.noise)
        allowed = _Part(
            allowed.flow - picked.use,
            np.hypot(allowed.systematic, picked.spread),
            allowed.random * picked.share,
            allowed.third * picked.share**3,
        )
    legitimate = _sum(measured, allowed)
    leakage = _sum(inflow, legitimate, sign=-1)
    scatter = night_scatter_l_s(leakage.flow, usable=usable)
    leakage = replace(leakage, random=np.maximum(leakage.random, scatter))
    minimum = _minimum(reduced, layout, nights, inflow, window_h)
    parts = {
        "inflow": inflow,
        "minimum_night_flow": minimum,
        "measured_use": measured,
        "allowed_use": allowed,
        "legitimate_use": legitimate,
        "leakage": leakage,
    }
    return NightBalance(
        _figures(network, layout, nights, parts, pressures, during, settings),
        _spreads(layout, nights, parts),
        layout,
        edges,
        use,
        tuple(meters),
        (*use.assumptions, *said, *([PICKED] if rolling else [])),
        (*layout.left_out, *gaps_said(inflow.flow, layout, nights), *use.limits, *lost),
    )


def _figures(
    network: Network,
    layout: Metering,
    nights: pd.DatetimeIndex,
    parts: dict[str, _Part],
    pressures: pd.DataFrame,
    works: pd.DataFrame,
    settings: Settings,
) -> pd.DataFrame:
    """Table NIGHTS: nothing but the status and the works on nights without a complete inflow."""
    pressure_m = wide(pressures, "night_pressure_m", layout.cells)
    spread_m = wide(pressures, "spread_m", layout.cells)
    background = background_limits(
        network,
        cells=layout.cells,
        pressure=Estimate(pressure_m, pressure_m - spread_m, pressure_m + spread_m),
        background=settings.background,
    )
    factor = wide_estimate(pressures, "night_day_factor_h_d", layout.cells)
    leakage = parts["leakage"].limits()
    known = np.isfinite(parts["inflow"].flow)

    def on(part: Estimate) -> Estimate:
        return Estimate(*(np.where(known, p, np.nan) for p in part))

    def use(name: str) -> Estimate:
        return on(not_below_zero(parts[name].limits()))

    return long(
        layout.cells,
        nights,
        day="night",
        columns={
            "status": np.where(known, "measured", "no_inflow").astype(object),
            "inflow_l_s": parts["inflow"].limits(),
            "minimum_night_flow_l_s": on(parts["minimum_night_flow"].limits()),
            "measured_use_l_s": use("measured_use"),
            "allowed_use_l_s": use("allowed_use"),
            "legitimate_use_l_s": use("legitimate_use"),
            "leakage_l_s": leakage,
            "background_l_s": on(background),
            "excess_l_s": combine_limits(leakage, background, signs=(1, -1)),
            "pressure_m": np.where(known, pressure_m, np.nan),
            "night_day_factor_h_d": on(factor),
            "leakage_m3_d": scaled(multiply_limits(leakage, factor), M3_PER_L_S_H),
            "works": works.to_numpy(dtype=object),
        },
    )


def _spreads(layout: Metering, nights: pd.DatetimeIndex, parts: dict[str, _Part]) -> pd.DataFrame:
    return long(
        layout.cells,
        nights,
        day="night",
        columns={
            f"{name}_{kind}_l_s": getattr(parts[name], kind)
            for name in ("minimum_night_flow", "measured_use", "legitimate_use", "leakage")
            for kind in ("systematic", "random")
        },
    )


def _inflow(
    layout: Metering, reduced: Reduced, nights: pd.DatetimeIndex, window_h: Array
) -> tuple[_Part, Estimate]:
    """Net inflow of the cells, and the flow of each zone meter with the limits of its error."""
    flow, gross = night_grids(reduced.night_flows, rows=nights, columns=layout.meters)
    step = step_deviation_l_s(reduced.quality, layout.meters, window_h=window_h)
    error = error_l_s(np.nan_to_num(gross), layout.errors) / Z_95
    size = abs(layout.signs)
    missing = (size @ np.isnan(flow).T.astype(float)).T > 0
    net = np.where(missing, np.nan, (layout.signs @ np.nan_to_num(flow).T).T)
    part = _Part(net, np.sqrt((size @ (error**2).T).T), np.sqrt((size @ (step**2).T).T))
    return part, from_deviation(flow, error)


def _minimum(
    reduced: Reduced,
    layout: Metering,
    nights: pd.DatetimeIndex,
    inflow: _Part,
    window_h: Array,
) -> _Part:
    minima = reduced.night_minima.rename(columns={"cell_id": "device_id"})
    flow = grid(
        minima, row="night", value="minimum_night_flow_l_s", rows=nights, columns=layout.cells
    )
    # The meters' errors at the lowest hour are at most those over the window; the step counts
    # over one hour instead of the window.
    return _Part(flow, inflow.systematic, inflow.random * window_h)


def _sum(first: _Part, second: _Part, *, sign: int = 1) -> _Part:
    return _Part(
        first.flow + sign * second.flow,
        np.hypot(first.systematic, second.systematic),
        np.hypot(first.random, second.random),
        first.third + sign * second.third,
    )
