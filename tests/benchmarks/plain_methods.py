"""Two plain ways to hear a leak in night flows, as textbooks and spreadsheets have them.

Common practice, no source: a night flow above the mean and so many standard deviations of the four
weeks before it; the mean of seven nights against the same kind of limit.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from district.simulate import NightTrial
from district.simulate.night_trial import LEARNING_NIGHTS

BASE_NIGHTS, LEAST_NIGHTS = 28, 14
SEVEN, LEAST_OF_SEVEN = 7, 4
ONE_EVENT_NIGHTS = 28
"""Alarms no further apart than this are one event, which spares these ways false ones."""
MOST_TIMES = 40.0
METHODS = ("plain threshold", "seven-night mean")


def scores(trial: NightTrial) -> dict[str, dict[str, np.ndarray]]:
    """How many standard deviations each night is out, by method and zone; NaN where not known.

    Nights with recorded uses are left out; after a recorded change of the meter the weeks before it
    no longer count.
    """
    found: dict[str, dict[str, np.ndarray]] = {name: {} for name in METHODS}
    for cell_id, rows in trial.nights.groupby("cell_id"):
        flow = rows.set_index("night")["inflow_l_s"].reindex(trial.axis)
        changed = np.zeros(len(flow), dtype=int)
        meters = trial.network.boundaries.set_index("downstream_cell_id")["meter_id"]
        for work in trial.works.itertuples():
            first, last = (t.tz_localize(None).normalize() for t in (work.start, work.end))
            if work.place_id == cell_id:
                flow[(flow.index >= first) & (flow.index <= last)] = np.nan
            if work.kind == "meter_change" and work.place_id == meters[cell_id]:
                changed[trial.axis > last] += 1
        for name, one in zip(METHODS, (threshold, seven), strict=True):
            parts = [one(flow.where(changed == n)) for n in range(changed[-1] + 1)]
            whole = np.full(len(flow), np.nan)
            for n, part in enumerate(parts):
                whole[changed == n] = part.to_numpy()[changed == n]
            found[name][str(cell_id)] = whole
    return found


def threshold(flow: pd.Series) -> pd.Series:
    """Each night against the mean of the 28 before, in their standard deviations."""
    base = flow.shift(1).rolling(BASE_NIGHTS, min_periods=LEAST_NIGHTS)
    return (flow - base.mean()) / base.std()


def seven(flow: pd.Series) -> pd.Series:
    """The mean of seven nights against that of the 28 before them, in its standard errors."""
    week = flow.rolling(SEVEN, min_periods=LEAST_OF_SEVEN)
    base = flow.shift(SEVEN).rolling(BASE_NIGHTS, min_periods=LEAST_NIGHTS)
    return (week.mean() - base.mean()) / (base.std() / np.sqrt(week.count()))


def false_events(score: np.ndarray, times: float) -> int:
    """Events of the judged year of a zone without a leak."""
    alarms = LEARNING_NIGHTS + np.flatnonzero(score[LEARNING_NIGHTS:] > times)
    return int(len(alarms) > 0) + int((np.diff(alarms) > ONE_EVENT_NIGHTS).sum())


def detected(score: np.ndarray, times: float, position: int) -> float:
    """Nights from the start to the alarm, both counted; infinite without one."""
    alarms = np.flatnonzero(score[position:] > times)
    return float(alarms[0] + 1) if len(alarms) else np.inf


def tuned(quiet: list[np.ndarray], rate: float) -> float:
    """Greatest multiple at which zones without a leak still have `rate` false events a year or
    more: where no multiple gives just as many, the plain way is allowed the few beyond."""
    for times in np.arange(MOST_TIMES, 1.0, -0.02):
        if np.mean([false_events(score, times) for score in quiet]) >= rate:
            return float(times)
    raise AssertionError("no multiple gives so many")
