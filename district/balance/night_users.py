"""Users whose measured night use is out of the ordinary: whom to ask first."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.balance.grids import (
    column_medians,
    days_of,
    grid,
    ids_in,
    in_columns,
    text,
    wide,
    wide_estimate,
)
from district.balance.limits import MEDIAN_FACTOR
from district.balance.meter_errors import error_l_s
from district.balance.metering import Metering, devices, metering
from district.balance.night import NightBalance
from district.balance.night_window import at_lowest_hours
from district.balance.noise import SCATTER
from district.balance.summary import recent
from district.balance.use import FALLBACK_CLASS
from district.estimates import Z_95, Array, Estimate, from_deviation, inverted, multiply_limits
from district.network import Network
from district.results import Reduced
from district.schema.columns import empty
from district.schema.night_tables import NIGHT_USERS
from district.settings import Settings
from district.words import brief, percent, plural, whole

TIMES_ALLOWED = 5.0
"""Night use beyond this many times the class's allowance is listed (common practice, no source)."""
LARGE_ZONE_SHARE = 0.1
"""And from this share of the zone's night inflow on (common practice, no source)."""
LEAST_OF_EXCEPTIONAL = 0.1
"""But not below this part of `settings.night.exceptional_l_s`, or every dripping tap is."""
STEADY_SHARE = 0.5
"""A flow whose lowest night has this share of the median, or more, never stopped."""
LEAST_NIGHTS = 7
"""Nights it takes to say so."""


def night_users(
    network: Network, reduced: Reduced, night: NightBalance, *, settings: Settings
) -> pd.DataFrame:
    """Table NIGHT_USERS: the interval-metered users to ask about their night use, largest first.

    Night use is the median over the meter's last `settings.night.recent_nights` nights without
    works in its zone; limits hold its meter's error and the scatter of those nights. Listed is
    who draws `settings.night.exceptional_l_s` or more, more than five times what its class of
    use would be allowed (by the lower limit), or a tenth or more of its zone's net night inflow;
    the latter two from a tenth of that setting on. `night` is the night balance of `reduced`.
    """
    layout = metering(network)
    if night.nights.empty:
        return empty(NIGHT_USERS)
    nights = days_of(night.nights["night"].unique())
    if settings.night.window == "rolling":
        layout, reduced = at_lowest_hours(layout, reduced)
    flows = reduced.night_flows
    seen = ids_in(flows.loc[flows["flow_l_s"].notna(), "device_id"])
    users = devices(network, layout, reading=seen)
    flow = grid(flows, row="night", value="flow_l_s", rows=nights, columns=users.ids)
    quiet = wide(night.nights, "works", layout.cells) == ""
    chosen = recent(np.isfinite(flow) & quiet[:, users.cell], count=settings.night.recent_nights)
    # The nights that count for anybody, which are few.
    shown = chosen.any(axis=1)
    chosen = chosen[shown]
    flow = np.where(chosen, flow[shown], np.nan)
    use = _median(flow, lambda middle: error_l_s(middle, users.errors) / Z_95)
    inflow = Estimate(
        *(
            column_medians(np.where(chosen, part[shown][:, users.cell], np.nan))
            for part in wide_estimate(night.nights, "inflow_l_s", layout.cells)
        )
    )
    table = _described(network, layout, users.ids, settings).assign(
        cell_id=np.asarray(layout.cells[users.cell], dtype=object),
        nights_count=chosen.sum(axis=0).astype(float),
        lowest_l_s=pd.DataFrame(flow).min().to_numpy(dtype=float),
    )
    share = multiply_limits(use, inverted(inflow))
    table = table.assign(**in_columns({"night_use_l_s": use, "zone_share": share}))
    table["reason"] = [_reason(row, settings) for row in table.to_dict("records")]
    listed = table[table["reason"] != ""].sort_values(
        ["night_use_l_s", "meter_id"], ascending=[False, True], ignore_index=True
    )
    return listed[list(NIGHT_USERS.names())]


def _median(flow: Array, error: Any) -> Estimate:
    """Median over the nights, its limits by the meter and by the scatter of the nights."""
    middle = column_medians(flow)
    scatter = SCATTER * column_medians(np.abs(flow - middle))
    count = np.maximum(np.isfinite(flow).sum(axis=0), 1)
    found = from_deviation(
        middle, np.hypot(error(middle), MEDIAN_FACTOR * scatter / np.sqrt(count))
    )
    return Estimate(middle, np.maximum(found.low, np.minimum(middle, 0.0)), found.high)


def _described(
    network: Network, layout: Metering, ids: pd.Index[Any], settings: Settings
) -> pd.DataFrame:
    """What stands behind each meter, and what it would be allowed without one."""
    taps = layout.users[layout.users["meter_id"].isin(set(ids))]
    known = taps["use_class"].where(taps["use_class"].isin(set(settings.allowances)))
    by_class = {name: rule.l_property_h / 3600.0 for name, rule in settings.allowances.items()}
    each = known.fillna(FALLBACK_CLASS).map(by_class).astype(float)
    groups = taps.assign(allowed=each * taps["properties"]).groupby("meter_id")
    return pd.DataFrame(
        {
            "meter_id": np.asarray(ids, dtype=object),
            "role": text(network.meters["role"].reindex(ids)).to_numpy(dtype=object),
            "use_class": groups["use_class"]
            .agg(lambda names: ", ".join(sorted(set(names) - {""})))
            .reindex(ids)
            .to_numpy(dtype=object),
            "properties_count": groups["properties"].sum().reindex(ids).to_numpy(dtype=float),
            "allowance_l_s": groups["allowed"].sum().reindex(ids).to_numpy(dtype=float),
        }
    )


def _reason(row: dict[Any, Any], settings: Settings) -> str:
    """Why a user is listed, '' if it is not."""
    use, exceptional = row["night_use_l_s"], settings.night.exceptional_l_s
    # Below zero, or of no night at all, it is no use.
    if not use > 0 or use < LEAST_OF_EXCEPTIONAL * exceptional:
        return ""
    said = []
    if use >= exceptional:
        said.append(f"{brief(use)} L/s at night, exceptional from {brief(exceptional)} L/s on")
    allowed = row["allowance_l_s"]
    if row["night_use_l_s_low"] > TIMES_ALLOWED * allowed:
        said.append(
            f"{whole(use / allowed)} times what its class of use is allowed"
            if allowed > 0
            else "its class of use is allowed nothing at night"
        )
    if row["zone_share"] >= LARGE_ZONE_SHARE:
        said.append(f"{percent(row['zone_share'], decimals=0)} of the zone's night inflow")
    steady = row["lowest_l_s"] >= STEADY_SHARE * use and row["nights_count"] >= LEAST_NIGHTS
    if said and steady:
        said.append(
            f"at least {brief(row['lowest_l_s'])} L/s on each of the last "
            f"{plural(int(row['nights_count']), 'night')}, as a leak behind the meter or a plant "
            "that never stops would draw"
        )
    return "; ".join(said)
