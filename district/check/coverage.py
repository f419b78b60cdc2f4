"""Whether the records reach far enough, at the same time, and finely enough for a balance."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pandas as pd

from district.check.plausible import unlikely_flows
from district.check.tanks import seldom_read
from district.check.wording import Files, files_of
from district.errors import Finding, worst_first
from district.network import Network
from district.schema.ids import held
from district.settings import Settings
from district.words import brief, natural, places, plural

NIGHTS_NEEDED = 14
"""A record needs this many nights before its spread can be told."""
USABLE_NIGHTS_NEEDED = 7
"""One of each day of the week among the nights the zone figures rest on."""
_LATE = timedelta(days=7)
_COARSE_L_S = 0.1
_INTERVAL_H = 1.0
"""Meters read less often than this are not used for the night."""
_TOLERANCE_H = 0.001


def check_coverage(
    quality: pd.DataFrame,
    night_flows: pd.DataFrame,
    daily_volumes: pd.DataFrame,
    *,
    network: Network,
    settings: Settings,
) -> tuple[Finding, ...]:
    """Gaps in time between and within the records, meters too coarse for the night, unlikely flows.

    Tables DEVICE_QUALITY, NIGHT_FLOWS and DAILY_VOLUMES of `schema.stored`; none is changed.
    Devices without any reading are left to the reading of the files. Raises nothing.
    """
    files = files_of(quality)
    zone_meters = natural(network.boundaries["meter_id"])
    records = quality[quality["first_utc"].notna() & quality["last_utc"].notna()]
    records = records.drop_duplicates("device_id").set_index("device_id")
    return worst_first(
        [
            *_overlap(daily_volumes, zone_meters, network, files),
            *_late(records, zone_meters, settings, files),
            *_short(records, zone_meters, settings, files),
            *_seldom(records, zone_meters, files),
            *seldom_read(records, network, files),
            *_no_night(quality, night_flows, network, settings, files),
            *_nights(night_flows, network, settings, files),
            *_coarse(records, network, settings, files),
            *unlikely_flows(daily_volumes, night_flows, network, files),
        ]
    )


def _overlap(
    daily: pd.DataFrame, zone_meters: list[str], network: Network, files: Files
) -> list[Finding]:
    known, device = daily["volume_m3"].notna(), daily["device_id"]
    users = network.meters.index[network.meters["role"].isin(("building", "customer"))]
    inflow, use = (
        pd.to_datetime(daily.loc[known & device.isin(ids), "day"].drop_duplicates())
        for ids in (zone_meters, users)
    )
    if inflow.empty or use.empty or inflow.isin(use).any():
        return []
    return [
        Finding(
            "error",
            files({*zone_meters, *users}),
            got=f"inflow from {inflow.min():%Y-%m-%d} to {inflow.max():%Y-%m-%d}, "
            f"but consumption from {use.min():%Y-%m-%d} to {use.max():%Y-%m-%d}",
            expected="days on which both zone meters and building or customer meters were read",
            remedy="Add the readings of the missing period; "
            "check the date format and the year of both",
        )
    ]


def _late(
    records: pd.DataFrame, zone_meters: list[str], settings: Settings, files: Files
) -> list[Finding]:
    last = records["last_utc"][records.index.isin(zone_meters)]
    if last.empty:
        return []
    clock = settings.zone_info()
    latest = last.max()
    ended = last[latest - last > _LATE].dt.tz_convert(clock)
    return [
        Finding(
            "warning",
            files([meter_id]),
            f"meter {meter_id}",
            got=f"a record that ends on {ended[meter_id]:%Y-%m-%d}",
            expected=f"readings up to {latest.tz_convert(clock):%Y-%m-%d}, "
            "as other zone meters have",
            remedy="Fetch the missing readings; without them the zones beside it "
            "have no balance after that day",
        )
        for meter_id in natural(ended.index)
    ]


def _short(
    records: pd.DataFrame, zone_meters: list[str], settings: Settings, files: Files
) -> list[Finding]:
    nights = {
        str(r.Index): _whole_nights(r.first_utc, r.last_utc, settings)
        for r in records[records.index.isin(zone_meters)].itertuples()
    }
    short = natural(m for m, count in nights.items() if count < NIGHTS_NEEDED)
    return [
        Finding(
            "warning",
            files([meter_id]),
            f"meter {meter_id}",
            got=f"a record of {plural(nights[meter_id], 'night')}",
            expected=f"at least {NIGHTS_NEEDED} nights, so that their spread can be told",
            remedy="Add older readings if there are any, and treat the figures as first ones",
        )
        for meter_id in short
    ]


def _whole_nights(first: pd.Timestamp, last: pd.Timestamp, settings: Settings) -> int:
    """How many night windows lie wholly between two instants."""
    clock, night = settings.zone_info(), settings.night
    begins, ends = first.tz_convert(clock), last.tz_convert(clock)
    from_day = begins.date() + timedelta(days=int(begins.time() > night.start))
    to_day = ends.date() - timedelta(days=int(ends.time() < night.end))
    return max(0, int((to_day - from_day).days) + 1)


def _zones(network: Network) -> list[tuple[str, list[str]]]:
    """The cells that can be balanced, each with the meters around it."""
    cells, boundaries = network.cells, network.boundaries
    around: dict[str, list[str]] = {}
    for side in ("upstream_cell_id", "downstream_cell_id"):
        for meter, cell in zip(boundaries["meter_id"], boundaries[side], strict=True):
            around.setdefault(cell, []).append(meter)
    without_source = natural(cells.index[~cells["has_source"]])
    return [(cell, natural(around[cell])) for cell in without_source if cell in around]


def _seldom(records: pd.DataFrame, zone_meters: list[str], files: Files) -> list[Finding]:
    step_h = records["step_h"][records.index.isin(zone_meters)]
    return [
        Finding(
            "warning",
            files([meter_id]),
            f"meter {meter_id}",
            got=f"a reading every {step_h[meter_id]:.3g} h",
            expected="one an hour or more often, so that the night can be told from the day",
            remedy="Read it every quarter of an hour; until then the zones beside it have no "
            "night flow",
        )
        for meter_id in natural(step_h.index[step_h > _INTERVAL_H + _TOLERANCE_H])
    ]


def _nights_of(devices: pd.Series[Any], nights: pd.Series[Any]) -> dict[str, set[int]]:
    """The nights of each device, as numbers: quicker to compare than dates."""
    number = pd.Series(pd.factorize(nights)[0], index=nights.index)
    return {str(device): set(n.tolist()) for device, n in number.groupby(devices)}


def _no_night(
    quality: pd.DataFrame,
    night_flows: pd.DataFrame,
    network: Network,
    settings: Settings,
    files: Files,
) -> list[Finding]:
    zones = _zones(network)
    at_zones = night_flows["device_id"].isin({m for _, meters in zones for m in meters})
    read = night_flows[at_zones & night_flows["flow_l_s"].notna()]
    nights_of = _nights_of(read["device_id"], read["night"])
    usable = any(set.intersection(*(nights_of.get(m, set()) for m in ms)) for _, ms in zones)
    if quality.empty or not zones or usable:
        return []
    night = settings.night
    return [
        Finding(
            "error",
            files(m for _, meters in zones for m in meters),
            got="no night on which every meter of a zone was read",
            expected="at least one zone whose meters were all read, hourly or more often, "
            f"from {night.start:%H:%M} to {night.end:%H:%M}",
            remedy=f"Add such readings, first of {places('meter', zones[0][1])} "
            f"around zone {zones[0][0]}",
        )
    ]


def _nights(
    night_flows: pd.DataFrame, network: Network, settings: Settings, files: Files
) -> list[Finding]:
    boundaries = network.boundaries
    flows = night_flows[night_flows["device_id"].isin(boundaries["meter_id"])]
    if flows.empty:
        return []
    recent = settings.night.recent_nights
    needed = min(USABLE_NIGHTS_NEEDED, recent)
    night = pd.to_datetime(flows["night"])
    read = flows["flow_l_s"].notna() & (night > night.max() - timedelta(days=recent))
    nights_of = _nights_of(flows["device_id"][read], night[read])
    found = []
    for cell, meters in _zones(network):
        sets = [nights_of.get(m, set()) for m in meters]
        usable = len(set.intersection(*sets))
        if usable >= needed:
            continue
        least = min(len(s) for s in sets)
        worst = [m for m, s in zip(meters, sets, strict=True) if len(s) == least]
        found.append(
            Finding(
                "warning",
                files(worst),
                f"zone {cell}",
                got=f"{usable} of the last {recent} nights with a flow at every meter of the zone",
                expected=f"at least {needed}",
                remedy=f"Fetch the missing readings, first of {places('meter', worst)} "
                f"({plural(least, 'night')})",
            )
        )
    return found


def _coarse(
    records: pd.DataFrame, network: Network, settings: Settings, files: Files
) -> list[Finding]:
    window_h = settings.night.window_h()
    meters = network.meters[network.meters["kind"].isin(("pulse", "register"))]
    read = records[held(records.index, meters.index) & (records["step_h"] <= _INTERVAL_H)]
    smallest_l_s = read["resolution_m3"] * 1000.0 / (window_h * 3600.0)
    coarse = smallest_l_s[smallest_l_s > _COARSE_L_S]
    found = []
    kind = meters["kind"].reindex(coarse.index)
    for (how, resolution_m3), group in coarse.groupby([kind, read["resolution_m3"]]):
        step = "pulses" if how == "pulse" else "steps of the register"
        found.append(
            Finding(
                "note",
                files(group.index),
                places("meter", group.index),
                got=f"{step} of {resolution_m3 * 1000:g} L: over the {window_h:g} h of the "
                f"night window no flow below {brief(group.iloc[0])} L/s shows",
                expected=f"a smallest flow of {_COARSE_L_S:g} L/s or less",
                remedy="Set the meter to finer pulses, or widen the night window",
            )
        )
    return found
