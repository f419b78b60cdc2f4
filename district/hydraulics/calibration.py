"""A model fitted to its loggers: roughness by groups, offsets, and how well it then explains them.

Measured less modelled head in a few states of the day, made linear about the fit (Gauss-Newton)
until it no longer moves; groups of pipes that no logger tells of keep what was told of them.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from datetime import date

import numpy as np
import pandas as pd
from scipy.sparse import csr_array

from district.errors import StageError
from district.hydraulics.fit_tables import Fit, doubted, group_table, judged, logger_cells, no_fit
from district.hydraulics.learning import learnt_errors
from district.hydraulics.model import Flags, Reals
from district.hydraulics.slopes import Slopes, slopes_at, use_deviations_m, use_spread
from district.hydraulics.states import DayStates, day_states
from district.hydraulics.update import (
    OFFSET_SPREAD_M,
    Learnt,
    Readings,
    Weighed,
    joint_draws,
    log_roughness,
    mean_factors,
    offsets,
    use_departures,
    weighed,
)
from district.hydraulics.water import Calibrated, Demands, Drawn

STATES = 8
LEAST_HOURS = 24
_STEPS = 15
_STILL = 0.01
_MOST_LOG, _MOST_STEP = 1.2, 0.4
"""The logarithm of a pipe's factor stays within the first; no step changes it by more than the
second, as heads bend with roughness."""
_HALVINGS = 5
_WORSE, _SLIGHT_M = 1.1, 0.02
"""A step is halved while the courses are missed by so much more."""
_LEAST_USE_INDEX = 0.05
_SEED = 19_810_401
_Z_95 = 1.96


def calibrate(
    drawn: Drawn,
    demands: Demands,
    hourly_pressures: pd.DataFrame,
    *,
    draws_count: int = 16,
    states_count: int = STATES,
    days: Collection[date] | None = None,
) -> Calibrated:
    """Fit roughness by groups and the offsets of loggers to measured pressure.

    Parameters: `hourly_pressures` table HOURLY_PRESSURES; `states_count` states of flow the day
    is taken in; `days` only these local dates, such as those before an event, as a running leak
    would be taken for roughness. Draws come from a fixed seed.

    Where nothing can be fitted (no logger with hours on a pipe, no hourly flows, a model that
    does not settle) the model is as drawn, no logger is usable and `reason` says why.
    """
    if not len(drawn.logger_id):
        return no_fit(drawn, draws_count, "No pressure logger stands on a pipe.")
    if demands.hours.empty:
        return no_fit(drawn, draws_count, "No zone meter is read by the hour.")
    seen = day_states(drawn, demands, hourly_pressures, states_count=states_count, days=days)
    enough = seen.hours_count.sum(axis=0) >= LEAST_HOURS
    if not enough.any():
        said = f"No pressure logger has {LEAST_HOURS} hours that the zone meters have too."
        return no_fit(drawn, draws_count, said)
    try:
        return _fitted(drawn, demands, seen, enough, draws_count)
    except StageError as error:
        return no_fit(drawn, draws_count, f"The model of the pipes finds no balance: {error}")


def _fitted(
    drawn: Drawn, demands: Demands, seen: DayStates, enough: Flags, draws_count: int
) -> Calibrated:
    told = drawn.model.roughness
    names, member = _groups(drawn)
    first = at = slopes_at(drawn, seen, told)
    use_m = use_deviations_m(drawn, demands, seen, at.by_draw)
    known = np.isfinite(seen.head_m) & np.isfinite(at.head_m) & enough
    if not known.any():
        return no_fit(drawn, draws_count, "No source reaches a pressure logger in the model.")
    log, learnt = np.zeros(len(told)), None
    for _ in range(_STEPS):
        by, left = _weighed(drawn, seen, at, use_m, known, member, log, learnt)
        learnt = by.learnt
        aim = np.clip(log_roughness(by, left), -_MOST_LOG, _MOST_LOG)
        whole = np.clip(aim - log, -_MOST_STEP, _MOST_STEP)
        for halvings in range(_HALVINGS):
            step = whole / 2.0**halvings
            trial = slopes_at(drawn, seen, told * np.exp(log + step), before=at)
            if _missed_m(seen, trial, known) < _WORSE * _missed_m(seen, at, known) + _SLIGHT_M:
                break
        log, at = log + step, trial
        if np.abs(step).max(initial=0.0) < _STILL:
            break
    by, left = _weighed(drawn, seen, at, use_m, known, member, log, learnt)
    offset = offsets(by, left)
    rng = np.random.default_rng(_SEED)
    drawn_logs, drawn_use = joint_draws(by, left, rng=rng, count=draws_count)
    use = np.vstack([use_departures(by, left), drawn_use])
    weight = member.T.toarray() * drawn.model.length_m
    weight = weight / weight.sum(axis=1, keepdims=True)
    fit = Fit(
        drawn=drawn,
        measured_m=np.where(known, seen.head_m, np.nan),
        hours_count=seen.hours_count,
        before_m=first.head_m,
        after_m=at.head_m,
        offset=offset,
    )
    loggers, usable, reason = judged(fit)
    return Calibrated(
        drawn=replace(drawn, model=replace(drawn.model, roughness=told * np.exp(log))),
        roughness=told * np.exp(np.clip(drawn_logs, -_MOST_LOG, _MOST_LOG)),
        use_index=np.maximum(1.0 + use * use_spread(drawn, demands), _LEAST_USE_INDEX),
        offset_m=np.where(known.any(axis=0), offset.together_m, np.nan),
        groups=group_table(drawn, names, weight, mean_factors(by, weight, left)),
        loggers=loggers,
        usable=usable,
        reason=reason,
        warning=doubted(by.learnt.doubt_index),
    )


def _missed_m(seen: DayStates, at: Slopes, known: Flags) -> float:
    """Root mean square of what the model misses of the loggers' courses about their means."""
    off = np.where(known, seen.head_m - at.head_m, np.nan)[:, known.any(axis=0)]
    return float(np.sqrt(np.nanmean((off - np.nanmean(off, axis=0)) ** 2)))


def _groups(drawn: Drawn) -> tuple[list[str], csr_array]:
    """Names of the groups, and which links (L, J) are in each."""
    count = len(drawn.model.link_id)
    group = np.asarray(drawn.group if len(drawn.group) else ["all pipes"] * count, dtype=object)
    fitted = np.flatnonzero(group != "")
    names, number = np.unique(group[fitted].astype(str), return_inverse=True)
    member = csr_array((np.ones(len(fitted)), (fitted, number)), shape=(count, len(names)))
    return [str(n) for n in names], member


def _weighed(
    drawn: Drawn,
    seen: DayStates,
    at: Slopes,
    use_m: Reals,
    known: Flags,
    member: csr_array,
    log: Reals,
    learnt: Learnt | None,
) -> tuple[Weighed, Reals]:
    """The readings about this fit, weighed by their errors, and what is to explain in them."""
    state, logger = np.nonzero(known)
    by_roughness = at.by_roughness_m[state, logger]
    left = seen.head_m[state, logger] - at.head_m[state, logger] + by_roughness @ log
    untold = np.isnan(drawn.logger_level_m)
    readings = Readings(
        logger=logger,
        state=state,
        roughness_m=by_roughness,
        use_m=use_m[state, logger],
        member=member,
        zone=np.unique(logger_cells(drawn), return_inverse=True)[1].astype(np.int64),
        offset_spread_m=np.where(
            untold, np.hypot(drawn.level_spread_m / _Z_95, OFFSET_SPREAD_M), OFFSET_SPREAD_M
        ),
    )
    return weighed(readings, learnt_errors(readings, left, start=learnt)), left
