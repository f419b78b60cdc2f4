"""What happened in zones and buildings: events, with what the store must be asked to name them.

Between the store and the rooms that reckon, like `heard`.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pandas as pd

from district import detect, store
from district.network import Network
from district.results import Balance, Events, Reduced
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
