"""The record's quarter hours: UTC inside, with the local calendar beside."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from district.simulate.scenario import STEP_S, TIMEZONE, Scenario
from district.simulate.story import HOLIDAYS, TERMS

Flags = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Clock:
    """Starts of the quarter hours.

    `local` is the same instants on the local clock, without offset; `day_number` counts local
    days from 0; `hour` is the local hour of the day with its quarters.
    """

    utc: pd.DatetimeIndex
    local: pd.DatetimeIndex
    day_number: NDArray[np.int64]
    hour: NDArray[np.float64]
    workday: Flags
    term: Flags
    night: Flags
    """Between 02:00 and 04:00 local."""

    def edges(self) -> pd.DatetimeIndex:
        """Starts of the quarter hours and the end of the last, UTC."""
        return self.utc.append(self.utc[-1:] + pd.Timedelta(seconds=STEP_S))


def clock_of(scenario: Scenario) -> Clock:
    """The quarter hours of the scenario's local days, clock changes included."""
    first = pd.Timestamp(scenario.first)
    bounds = pd.DatetimeIndex([first, first + pd.Timedelta(days=scenario.days)])
    bounds = bounds.tz_localize(TIMEZONE).tz_convert("UTC")
    utc = pd.date_range(bounds[0], bounds[1], freq=f"{STEP_S}s", inclusive="left").as_unit("ns")
    local = utc.tz_convert(TIMEZONE).tz_localize(None)
    day = local.normalize()
    hour = (local.hour + local.minute / 60).to_numpy(dtype=float)
    terms = [(pd.Timestamp(a), pd.Timestamp(b)) for a, b in TERMS]
    return Clock(
        utc=utc,
        local=local,
        day_number=((day - first) // pd.Timedelta(days=1)).to_numpy(dtype=np.int64),
        hour=hour,
        workday=np.asarray((day.day_of_week < 5) & ~day.isin(pd.DatetimeIndex(HOLIDAYS))),
        term=np.any([(day >= a) & (day <= b) for a, b in terms], axis=0),
        night=(hour >= 2) & (hour < 4),
    )


def utc_of(local: str) -> pd.Timestamp:
    """The instant of a local time written without offset."""
    return pd.Timestamp(local).tz_localize(TIMEZONE).tz_convert("UTC")
