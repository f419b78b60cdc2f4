"""How well a fitted model explains its loggers: tables, and whether they can be evidence."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from district.hydraulics.model import Flags, Reals, Wholes
from district.hydraulics.update import Offsets
from district.hydraulics.water import Calibrated, Drawn
from district.schema.located import CALIBRATION, LOGGER_CHECKS
from district.words import plural

FLAT_M = 0.25
"""A logger whose course is explained within this is evidence however flat its course is. Common
practice, no source: half the error of a gauge of 0.5 % and 100 m."""
MOST_LEFT_M = 1.5
"""One that is further off is no evidence, however steep its course. Assumption."""
STUCK_M = 1e-4
"""A gauge whose course over the states of the day is less always reads the same: it is stuck, or
too coarse to feel anything. Assumption."""
SHARING = 3
"""What so many loggers of a zone miss in common in a state is the head the zone is fed with; fewer
do not tell it from their own faults. Assumption."""
TOLD_SHARE = 0.9
"""A group rests on readings where they narrow it to this share of what it was before, or less."""
DOUBTFUL = 2.5
"""Stated variances of roughness and use multiplied by more than this speak against the map: 1 of
76 random zones drawn right did, and 11 of 16 with a busy main drawn shut (regression values)."""
_Z_95 = 1.96


@dataclass(frozen=True, eq=False)
class Fit:
    """Heads of S states at G loggers: measured (NaN where not compared), modelled before and after
    the fit; hours behind each; the loggers' offsets."""

    drawn: Drawn
    measured_m: Reals
    hours_count: Wholes
    before_m: Reals
    after_m: Reals
    offset: Offsets


def judged(fit: Fit) -> tuple[pd.DataFrame, Flags, str]:
    """Table LOGGER_CHECKS, which loggers are usable, and why none is ('' where some are).

    What `SHARING` loggers of a zone or more miss in common in a state, their median, is the head
    the zone is fed with, and no fault of theirs: it counts neither in what the model misses nor in
    the flat line. A logger is no evidence where it has no course at all (`STUCK_M`), where the
    model explains its daily course worse than a flat line does and by more than `FLAT_M`, or
    misses its course, or its level beyond the offset, by more than `MOST_LEFT_M`. Where fewer than
    half of the loggers compared are evidence, none is.
    """
    hours = np.where(np.isfinite(fit.measured_m), fit.hours_count, 0)
    total = hours.sum(axis=0)
    compared = total > 0
    left = fit.measured_m - fit.offset.together_m - fit.after_m
    shared = _shared_m(np.where(hours > 0, left, np.nan), logger_cells(fit.drawn))
    level = _mean(left - shared, hours)
    missed = _root_mean(left - shared - level, hours)
    own = fit.measured_m - shared
    flat_missed = _root_mean(own - _mean(own, hours), hours)
    course = _root_mean(fit.measured_m - _mean(fit.measured_m, hours), hours)
    flat = compared & (missed > np.maximum(flat_missed, FLAT_M))
    far = compared & (missed > MOST_LEFT_M)
    off = compared & (np.abs(level) > MOST_LEFT_M)
    stuck = compared & ((hours > 0).sum(axis=0) > 1) & (course < STUCK_M)
    usable = compared & ~flat & ~far & ~off & ~stuck
    said = np.full(len(total), "", dtype=object)
    said[~compared] = "It has too few hours with the zone meters, or no source reaches it."
    for g in np.flatnonzero(off):
        said[g] = (
            f"It reads {abs(level[g]):.2f} m {'above' if level[g] > 0 else 'below'} the model at "
            "all hours, its usual offset apart. Look to the gauge's level and zero."
        )
    for g in np.flatnonzero(flat | far):
        said[g] = (
            f"The model misses its course by {missed[g]:.2f} m, a flat line by "
            f"{flat_missed[g]:.2f} m. Look for a valve near it that stands otherwise than drawn, "
            "or a gauge that drifts."
        )
    said[stuck] = "It reads the same at every hour of the day: look whether the gauge is stuck."
    offset = np.where(compared, fit.offset.own_m, np.nan)
    half = _Z_95 * fit.offset.own_spread_m
    table = pd.DataFrame(
        {
            "sensor_id": fit.drawn.logger_id,
            "cell_id": logger_cells(fit.drawn),
            "hours_count": total,
            "offset_m": offset,
            "offset_m_low": offset - half,
            "offset_m_high": offset + half,
            "before_m": _root_mean(fit.measured_m - fit.before_m, hours),
            "after_m": _root_mean(left - shared, hours),
            "course_m": course,
            "used": usable,
            "said": said,
        },
        columns=LOGGER_CHECKS.names(),
    )
    reason = ""
    if 2 * usable.sum() < compared.sum():
        reason = (
            f"The model of the pipes follows {int(usable.sum())} of "
            f"{plural(int(compared.sum()), 'pressure logger')}: too few to tell a leak's place by "
            "pressure. Check valves' states, diameters and the loggers' levels."
        )
    if reason:
        table = table.assign(used=False, said=np.where(usable, reason, said))
    return table, usable & (reason == ""), reason


def group_table(
    drawn: Drawn, names: list[str], weight: Reals, factors: tuple[Reals, Reals, Reals]
) -> pd.DataFrame:
    """Table CALIBRATION. `weight` (J, L) rows sum to 1; `factors` as `mean_factors` gives them."""
    mean, after, before = factors
    model = drawn.model
    inside = weight > 0
    return pd.DataFrame(
        {
            "group": names,
            "pipes_km": inside @ model.length_m / 1000.0,
            "roughness": weight @ model.roughness,
            "factor_index": np.exp(mean),
            "factor_index_low": np.exp(mean - _Z_95 * after),
            "factor_index_high": np.exp(mean + _Z_95 * after),
            "rests_on": np.where(after <= TOLD_SHARE * before, "readings", "assumption"),
        },
        columns=CALIBRATION.names(),
    )


def doubted(doubt_index: float) -> str:
    """What to look to where `doubt_index`, of `update.Learnt`, is beyond the usual; else ''."""
    if doubt_index < DOUBTFUL:
        return ""
    return (
        "The pressure loggers can only be followed with roughness and use "
        f"{np.sqrt(doubt_index):.1f} times as far from what is told as is usual. Look first for "
        "valves that stand otherwise than drawn, and for wrong diameters or levels."
    )


def no_fit(drawn: Drawn, draws_count: int, reason: str) -> Calibrated:
    """The model as drawn, no logger usable, and why."""
    count = len(drawn.logger_id)
    nothing = np.full((1, count), np.nan)
    table, _, _ = judged(
        Fit(drawn, nothing, np.zeros((1, count), dtype=np.int64), nothing, nothing,
            Offsets(nothing[0], nothing[0], nothing[0]))
    )  # fmt: skip
    return Calibrated(
        drawn=drawn,
        roughness=np.tile(drawn.model.roughness, (draws_count, 1)),
        offset_m=np.full(count, np.nan),
        groups=pd.DataFrame(columns=CALIBRATION.names()),
        loggers=table.assign(said=reason),
        usable=np.zeros(count, dtype=bool),
        reason=reason,
    )


def logger_cells(drawn: Drawn) -> Any:
    """The cell of the node that counts most at each logger (G)."""
    return drawn.node_cell[np.asarray(drawn.watch.argmax(axis=1)).ravel()].astype(str)


def _shared_m(left_m: Reals, zone: Any) -> Reals:
    """What the loggers of a zone miss in common in each state (S, G); 0 where too few are read."""
    shared = np.zeros(left_m.shape)
    for name in np.unique(zone):
        own = zone == name
        enough = np.isfinite(left_m[:, own]).sum(axis=1) >= SHARING
        middle = np.nanmedian(left_m[np.ix_(enough, own)], axis=1)
        shared[np.ix_(enough, own)] = middle[:, None]
    return shared


def _mean(values: Reals, weight: Wholes) -> Reals:
    known = np.where(weight > 0, values, 0.0)
    total = weight.sum(axis=0)
    bare = np.full(len(total), np.nan)
    return np.asarray(np.divide((known * weight).sum(axis=0), total, out=bare, where=total > 0))


def _root_mean(values: Reals, weight: Wholes) -> Reals:
    return np.asarray(np.sqrt(_mean(values**2, weight)))
