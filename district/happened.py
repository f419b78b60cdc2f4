"""What happened in zones and buildings: events, with what the store must be asked to name them.

Between the store and the rooms that reckon, like `heard`.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pandas as pd

from district import detect, store
from district.network import Network, edges_with_tanks
from district.results import Balance, Events, Reduced, ShutOff
from district.settings import Settings

_QUARTER = "Q"
"""Hours are asked for by quarters of the year, so that the store reads no more than it must."""


def events_found(
    network: Network,
    reduced: Reduced,
    balance: Balance,
    *,
    works: pd.DataFrame,
    place: Path,
    settings: Settings,
) -> Events:
    """Leak events and alarms, what each likely is, and what building meters and sensors show.

    `works` the input table, `place` where the readings are kept: of the zones that changed it is
    asked for the hours of the days around. Raises `StoreError` if what is kept is damaged.
    """
    changed = detect.find_changes(
        balance.nights, reduced.night_flows, network=network, works=works, settings=settings
    )
    found = detect.find_events(
        balance.nights,
        reduced.night_flows,
        network=network,
        alarms=reduced.alarms,
        works=works,
        settings=settings,
        meter_checks=balance.meter_checks,
        quality=reduced.quality,
        hourly=_hourly(network, detect.hours_wanted(changed), place=place, settings=settings),
        daily_volumes=_read_by_day(reduced),
        changed=changed,
    )
    meters = detect.building_meters(network)
    still, periods = store.building_days(
        place, meters, works, zone=settings.zone_info(), empty_hours=settings.empty_hours
    )
    checks = detect.check_buildings(
        still,
        reduced.quality,
        network=network,
        works=works,
        settings=settings,
        periods=periods,
        daily_volumes=reduced.daily_volumes,
        events=found.events,
    )
    return replace(found, building_checks=checks)


def shut_off_found(
    network: Network,
    reduced: Reduced,
    events: Events,
    *,
    works: pd.DataFrame,
    place: Path,
    settings: Settings,
) -> ShutOff:
    """When valves that shut buildings by themselves should trip, from the buildings' own readings.

    `works` the input table, `place` where the readings are kept; a few meters are held at a time.
    Raises `StoreError` if what is kept is damaged.
    """
    devices = detect.shutoff_devices(
        reduced.quality,
        network=network,
        events=events.events,
        building_checks=events.building_checks,
        settings=settings,
    )
    return detect.shutoff_settings(
        store.building_intervals(place, devices=devices),
        quality=reduced.quality,
        network=network,
        events=events.events,
        building_checks=events.building_checks,
        works=works,
        settings=settings,
    )


def _hourly(
    network: Network, wanted: pd.DataFrame, *, place: Path, settings: Settings
) -> pd.DataFrame:
    """Net inflow by hour of the zones and days `wanted`: cell_id, day, hour, flow_l_s."""
    edges = edges_with_tanks(network)
    sided = network.cells.index[~network.cells["has_source"].to_numpy(dtype=bool)].astype(str)
    wanted = wanted[wanted["cell_id"].isin(sided)]
    parts = []
    for _, asked in wanted.groupby(wanted["day"].dt.to_period(_QUARTER), sort=True):
        cells = set(asked["cell_id"])
        near = edges[
            edges["upstream_cell_id"].isin(cells) | edges["downstream_cell_id"].isin(cells)
        ]
        flows = store.hourly_flows(
            place,
            devices=sorted(set(near["meter_id"].astype(str))),
            days=pd.DatetimeIndex(sorted(set(asked["day"]))),
            zone=settings.zone_info(),
        )
        parts.append(detect.net_hours(flows, near).merge(asked, on=["cell_id", "day"]))
    columns = ["cell_id", "day", "hour", "flow_l_s"]
    return pd.concat(parts, ignore_index=True) if parts else pd.DataFrame(columns=columns)


def _read_by_day(reduced: Reduced) -> pd.DataFrame:
    """Daily volumes of the meters that are not read through the night."""
    daily = reduced.daily_volumes
    return daily[~daily["device_id"].isin(reduced.night_flows["device_id"].unique())]
