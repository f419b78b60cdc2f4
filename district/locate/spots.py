"""Where a leak may be, as points along every pipe, and a piece of evidence about them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

import pandas as pd

from district.hydraulics.water import Calibrated, Demands
from district.locate.pooling import Wholes
from district.locate.rates import Reals


@dataclass(frozen=True, eq=False)
class Spots:
    """S spots: each stands for a short length of a pipe, in order of pipe and along it.

    pipe (S)
        position of its pipe in `network.pipes` sorted by pipe_id (the order of `leak_prior`).
    share (S)
        how far along the pipe, 0 at its start to 1 at its end.
    length_m (S)
        length of pipe it stands for.
    cell_id (S)
    x_m, y_m (S)
        where it is, in the network's metric CRS.
    leaks_per_year (S)
        expected leaks: its pipe's by length, those of connections at the spots nearest to them.
    """

    pipe: Wholes
    share: Reals
    length_m: Reals
    cell_id: Any
    x_m: Reals
    y_m: Reals
    leaks_per_year: Reals


@dataclass(frozen=True, eq=False)
class Evidence:
    """One piece of evidence about one leak looked for: a likelihood over the spots.

    sought_id
        the leak looked for: event_id, or cell_id where it is a zone's excess without an event.
    kind
        of `schema.located.EVIDENCE_KINDS`.
    said
        what was seen, in a sentence a practitioner reads.
    log_likelihood (S)
        up to a constant; all 0 where `used` is False.
    used
        False where it could not count; then `said` tells why.
    """

    sought_id: str
    kind: str
    said: str
    log_likelihood: Reals
    used: bool = True


@dataclass(frozen=True)
class Sought:
    """One leak looked for: an open leak event of a zone, or its excess without an event."""

    sought_id: str
    cell_id: str
    kind: str
    """leak, growing_leak or excess."""
    flow_l_s: float
    flow_l_s_low: float
    flow_l_s_high: float
    start: date | None = None
    start_low: date | None = None
    start_high: date | None = None


@dataclass(frozen=True, eq=False)
class Heard:
    """What the pressure loggers told, and the model that explains them.

    `pressures`: table HOURLY_PRESSURES; `demands.hours` covers the days that are compared.
    """

    calibrated: Calibrated
    demands: Demands
    pressures: pd.DataFrame


@dataclass(frozen=True, eq=False)
class Seen:
    """What crews, sensors and the public told: input tables SURVEYS, STEP_TESTS, CORRELATIONS,
    SIGHTINGS; tables ALARMS and ACOUSTIC_NIGHTS of `schema.stored`."""

    surveys: pd.DataFrame
    step_tests: pd.DataFrame
    correlations: pd.DataFrame
    sightings: pd.DataFrame
    alarms: pd.DataFrame
    acoustic_nights: pd.DataFrame
