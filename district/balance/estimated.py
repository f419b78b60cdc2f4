"""Readings with the flows of missing meters filled in, and the nights that rest on them marked."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from district.balance.grids import days_of, grid, ids_in, median_filled, rows_of, span, text
from district.balance.metering import Metering, devices, metering
from district.balance.missing import missing_flows
from district.balance.night import NightBalance
from district.balance.volumes import COVERAGE_NEEDED, M3_D_PER_L_S
from district.estimates import Z_95
from district.network import Network
from district.results import Reduced
from district.units import M3_PER_L_S_H
from district.words import listed, plural


@dataclass(frozen=True, eq=False)
class Filled:
    """`reduced` with estimated flows of meters between two zones where they lack readings.

    `deviation_l_s` is what the estimate adds to each night of each cell (columns cell_id, night),
    0 rows where nothing was estimated; `assumptions` say what was.
    """

    reduced: Reduced
    deviation_l_s: pd.DataFrame
    assumptions: tuple[str, ...]


def fill_missing(network: Network, reduced: Reduced, *, layout: Metering | None = None) -> Filled:
    """Estimate missing nights and days of zone meters between two balanced cells.

    `layout` is that of the network, made here if not given.
    """
    layout = layout or metering(network)
    nights, added, by_night = _filled(
        network, layout, reduced.night_flows, "night", "flow_l_s", scale=1.0
    )
    days, _, by_day = _filled(
        network, layout, reduced.daily_volumes, "day", "volume_m3", scale=M3_D_PER_L_S, whole=True
    )
    if not len(nights) and not len(days):
        return Filled(reduced, added, ())
    usual_h = reduced.night_flows.groupby("night")["window_h"].max()
    window = nights["night"].map(usual_h)
    nights = nights.assign(window_h=window, coverage_share=0.0, gross_l_s=nights["flow_l_s"].abs())
    days = days.assign(coverage_share=1.0, spread_share=0.0, gross_m3=days["volume_m3"].abs())
    said = [
        f"{listed(by_night.keys())} lacked readings on {plural(sum(by_night.values()), 'night')}: "
        "estimated from the meters and users of the zones on both sides and their leakage on "
        "nearby nights; such nights have status estimated."
    ] * bool(by_night)
    said += [
        f"{listed(by_day.keys())} lacked readings on {plural(sum(by_day.values()), 'day')}: "
        "estimated in the same way. The sum of the zones on both sides is as measured."
    ] * bool(by_day)
    return Filled(
        replace(
            reduced,
            night_flows=_replaced(reduced.night_flows, nights, "night"),
            daily_volumes=_replaced(reduced.daily_volumes, days, "day"),
        ),
        added,
        tuple(said),
    )


def mark_estimated(night: NightBalance, filled: Filled) -> NightBalance:
    """Give the nights that rest on estimated flows their status and their wider limits."""
    if not len(filled.deviation_l_s):
        return night
    nights, spreads = night.nights.copy(), night.spreads.copy()
    key = pd.MultiIndex.from_frame(filled.deviation_l_s[["cell_id", "night"]])
    rows = key.get_indexer(pd.MultiIndex.from_arrays([nights["cell_id"], days_of(nights["night"])]))
    here = (rows >= 0) & (nights["status"] == "measured").to_numpy()
    extra = filled.deviation_l_s["deviation_l_s"].to_numpy()[np.maximum(rows, 0)] * here
    nights.loc[here, "status"] = "estimated"
    daily = extra * nights["night_day_factor_h_d"].fillna(0.0).to_numpy() * M3_PER_L_S_H
    for name, more in (
        ("inflow_l_s", extra),
        ("leakage_l_s", extra),
        ("excess_l_s", extra),
        ("leakage_m3_d", daily),
    ):
        value = nights[name]
        for suffix, side in (("_low", -1.0), ("_high", 1.0)):
            half = np.hypot(nights[name + suffix] - value, Z_95 * more)
            nights[name + suffix] = np.where(here, value + side * half, nights[name + suffix])
    random = spreads["leakage_random_l_s"]
    spreads["leakage_random_l_s"] = np.where(here, np.hypot(random, extra), random)
    return replace(night, nights=nights, spreads=spreads)


def _filled(
    network: Network,
    layout: Metering,
    table: pd.DataFrame,
    row: str,
    value: str,
    *,
    scale: float,
    whole: bool = False,
) -> tuple[pd.DataFrame, pd.DataFrame, dict[str, int]]:
    """Rows of the table for the missing meters, what each adds by cell, and counts by meter.

    Only of rows covered well enough where `whole`.
    """
    own = table.iloc[rows_of(table["device_id"], layout.meters)[0]]
    own = own[own["coverage_share"] >= COVERAGE_NEEDED] if whole else own
    days = span(own.loc[own[value].notna(), row])
    flow = grid(own, row=row, value=value, rows=days, columns=layout.meters) / scale
    if np.isnan(flow).any():
        table = table[table["coverage_share"] >= COVERAGE_NEEDED] if whole else table
    else:  # What users drew is then not asked for.
        table = table.iloc[:0]
    users = devices(network, layout, reading=ids_in(table["device_id"]))
    use = median_filled(grid(table, row=row, value=value, rows=days, columns=users.ids) / scale)
    use_l_s = (users.inside @ np.nan_to_num(use).T).T
    filled, added = missing_flows(
        layout, flow, use_l_s=use_l_s, use_deviation_l_s=np.zeros(use_l_s.shape)
    )
    at, meter = np.nonzero(np.isnan(flow) & np.isfinite(filled))
    rows = pd.DataFrame(
        {
            "device_id": layout.meters.to_numpy()[meter],
            row: days.to_numpy()[at],
            value: filled[at, meter] * scale,
        }
    )
    down, across = np.nonzero(added)
    deviations = pd.DataFrame(
        {
            "cell_id": layout.cells.to_numpy()[across],
            row: days.to_numpy()[down],
            "deviation_l_s": added[down, across],
        }
    )
    return rows, deviations, {str(k): int(n) for k, n in rows["device_id"].value_counts().items()}


def _replaced(table: pd.DataFrame, rows: pd.DataFrame, row: str) -> pd.DataFrame:
    """The table with these rows in place of its own of the same meters and days."""
    if not len(rows):
        return table
    rows = rows.reindex(columns=table.columns).astype(
        {c: table[c].dtype for c in table.columns if table[c].dtype.kind == "f"}
    )
    own = pd.MultiIndex.from_arrays([text(table["device_id"]), days_of(table[row])])
    new = pd.MultiIndex.from_arrays([rows["device_id"], days_of(rows[row])])
    return pd.concat([table[~own.isin(new)], rows], ignore_index=True)
