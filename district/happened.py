"""What happened in zones and buildings: events, with what the store must be asked to name them.

Between the store and the rooms that reckon, like `heard`.
"""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from district import detect
from district.network import Network
from district.results import Balance, Events, Reduced
from district.settings import Settings


def events_found(
    network: Network,
    reduced: Reduced,
    balance: Balance,
    *,
    works: pd.DataFrame,
    place: Path,  # noqa: ARG001 - hours of the days around each change will be asked of it
    settings: Settings,
) -> Events:
    """Leak events and alarms, what each likely is, and what building meters and sensors show.

    `works` the input table, `place` where the readings are kept. Raises `StoreError` if what is
    kept is damaged.
    """
    return detect.find_events(
        balance.nights,
        reduced.night_flows,
        network=network,
        alarms=reduced.alarms,
        works=works,
        settings=settings,
        meter_checks=balance.meter_checks,
        quality=reduced.quality,
    )
