"""What happened in zones and buildings: events, with what the store must be asked to name them.

Between the store and the rooms that reckon, like `heard`.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pandas as pd

from district import detect, store
from district.network import Network
from district.results import Balance, Events, Reduced, ShutOff
from district.settings import Settings


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

    `works` the input table, `place` where the readings are kept. Raises `StoreError` if what is
    kept is damaged.
    """
    found = detect.find_events(
        balance.nights,
        reduced.night_flows,
        network=network,
        alarms=reduced.alarms,
        works=works,
        settings=settings,
        meter_checks=balance.meter_checks,
        quality=reduced.quality,
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
