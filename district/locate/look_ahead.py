"""What the district would see of the leaks to come, and what device to add next."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace

import numpy as np
import pandas as pd

from district.errors import UnsettledError
from district.locate.detectability import detectability, zone_reach
from district.locate.hearing import Site, hear_zones
from district.locate.listening import Listening
from district.locate.next_device import next_devices
from district.locate.outlook import UNKNOWN_SIZE_SHARE, Outlook
from district.locate.pooling import Wholes
from district.locate.prior import Prior, leak_prior
from district.locate.spots import Heard
from district.network import Network
from district.night_noise import step_error
from district.results import Basis, Location
from district.settings import Settings
from district.words import percent, plural

DEVICES = 5
"""Devices listed at most."""
LEAST_SHARE = 0.03
"""Share of a zone's walk that a device must save to be listed. Assumption: less is not worth a
fitting."""


def look_ahead(
    location: Location,
    network: Network,
    breaks: pd.DataFrame,
    events: pd.DataFrame,
    night_noise: pd.DataFrame,
    *,
    settings: Settings,
    year: int,
    heard: Heard | None = None,
) -> Location:
    """The location with DETECTABILITY, ZONE_REACH and NEXT_DEVICES, and in `ahead` what they rest
    on.

    Parameters: `breaks` input table BREAKS, `events` table EVENTS, `night_noise` table
    NIGHT_NOISE, `heard` what `locate_leaks` takes. A zone without noise of its nights has no
    balance: there nothing shows by inflow, nor by pressure, which needs the inflow to tell a leak
    from use. Nothing is written to.
    """
    prior = leak_prior(network, breaks, year=year)
    zones = outlooks(network, prior, events, night_noise, settings=settings, heard=heard)
    asked = settings.locate
    devices = next_devices(
        zones, flow_l_s=asked.leak_l_s, most_count=DEVICES, least_share=LEAST_SHARE
    )
    said = Basis(
        location.basis.first,
        location.basis.last,
        assumptions=tuple(_assumptions(zones, settings)),
        limits=tuple(_limits(zones, devices, settings)),
    )
    return replace(
        location,
        detectability=detectability(zones, settings=settings),
        zone_reach=zone_reach(zones, settings=settings),
        next_devices=devices,
        ahead=said,
    )


def outlooks(
    network: Network,
    prior: Prior,
    events: pd.DataFrame,
    night_noise: pd.DataFrame,
    *,
    settings: Settings,
    heard: Heard | None = None,
) -> list[Outlook]:
    """Every zone as it stands before a leak comes, in order of cell_id."""
    table = prior.table
    pipes = network.pipes.loc[table.index]
    cell_id = table["cell_id"].to_numpy(dtype=str)
    names = np.unique(cell_id).tolist()
    rows = {name: np.flatnonzero(cell_id == name) for name in names}
    noise = night_noise.set_index("cell_id")
    metered = [name for name in names if name in noise.index]
    listening: dict[str, Listening] = {}
    if heard is not None:
        link = heard.calibrated.drawn.pipe_link[network.pipes.index.get_indexer(table.index)]
        middle = pipes.geometry.interpolate(0.5, normalized=True)
        x, y = middle.x.to_numpy(), middle.y.to_numpy()
        sites = [Site(n, link[rows[n]], x[rows[n]], y[rows[n]]) for n in metered]
        # Where the model finds no balance the zones are as without one, which `_limits` says.
        with suppress(UnsettledError):
            listening = hear_zones(heard, sites, events, nights_count=settings.locate.nights_count)
    ends = ("noise_l_s", "noise_l_s_low", "noise_l_s_high")
    zones = []
    for name in names:
        own: Wholes = rows[name]
        sigma = noise.loc[name, list(ends)].to_numpy(dtype=float) if name in metered else _NONE
        error = step_error(sigma, settings.locate.nights_count)
        zones.append(
            Outlook(
                name,
                tuple(table.index[own].astype(str)),
                pipes["start_position"].to_numpy(dtype=np.int64)[own],
                pipes["end_position"].to_numpy(dtype=np.int64)[own],
                table["length_m"].to_numpy(dtype=float)[own],
                table["leaks_per_year"].to_numpy(dtype=float)[own],
                prior.draws[own].astype(float),
                float(error[0]),
                float(error[1]),
                float(error[2]),
                listening.get(name),
            )
        )
    return zones


_NONE = np.full(3, np.nan)


def _assumptions(zones: list[Outlook], settings: Settings) -> list[str]:
    asked, rate = settings.locate, settings.events.false_alarms_per_year
    said = [
        f"A leak is shown when the change test gives alarm within {asked.nights_count} nights on "
        f"average, at {rate:g} false alarms a year and zone for the inflow, and as many for the "
        "pressures.",
        f"The walk expected is for a leak of {asked.leak_l_s:g} L/s, by what "
        f"{asked.nights_count} nights would tell; half of the leak's own pipe is part of it.",
    ]
    if any(zone.heard is not None for zone in zones):
        said.append(
            "A logger more is taken to be as good as those there are, and heads to move in "
            "proportion to small changes of flow."
        )
    if any(np.isnan(zone.error_l_s) for zone in zones):
        said.append(
            "In a zone without a balance the size of a leak is taken to be known to "
            f"{percent(UNKNOWN_SIZE_SHARE)} (assumed)."
        )
    return said


def _limits(zones: list[Outlook], devices: pd.DataFrame, settings: Settings) -> list[str]:
    said = []
    deaf = [zone for zone in zones if zone.heard is None]
    if deaf:
        said.append(
            f"In {plural(len(deaf), 'zone')} no hydraulic model with hourly flows tells how a leak "
            "would show by pressure: the walk there rests on expected leaks alone."
        )
    if devices.empty:
        said.append(
            f"No single logger or meter more would save {percent(LEAST_SHARE)} of the walk to a "
            f"leak of {settings.locate.leak_l_s:g} L/s in its zone."
        )
    return said
