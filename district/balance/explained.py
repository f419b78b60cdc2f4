"""How well a fault between two cells, and changes of each by itself, explain days about a date.

Both are given every freedom: without the fault, as many changes in either cell as are worth it;
with it, those that are still worth it when it is taken off. The two are compared by likelihood,
with the odds of each event counted, so that 'a meter and a leak' is weighed against 'two leaks'.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from district.balance.contest import Chance
from district.balance.own_changes import Own
from district.balance.steps import Series, Steps, grown, no_steps
from district.balance.suspects import BEFORE_DAYS, Faults, Suspects, Windows, fault_of, windows
from district.estimates import Array


def explained(
    suspects: Suspects,
    values: tuple[Array, Array],
    *,
    made: Chance,
    use_l_s: Array,
    factor_share: Array,
    owns: list[Own],
    least_statistic_index: float,
) -> tuple[Any, Faults]:
    """Positions of the suspects that may be more than nothing, and what each would be.

    Parameters: `values` residuals by night and by day, days x cells; `owns` what else changed;
    `least_statistic_index` that a fault must have. Days are those of the record, `odds` against
    changes of each cell by itself.
    """
    about = windows(
        suspects, values, made=made, use_l_s=use_l_s, factor_share=factor_share, owns=owns
    )
    kept = np.flatnonzero(_at_all(about, least_statistic_index))
    about = about.of(kept)
    n, reach = about.count, np.hstack([about.reach, about.reach])
    alone = grown(about.series, about.far, reach=reach, worth_index=0.0)
    _, without = about.seen(alone)
    near = alone.of(reach[alone.days, alone.columns])
    best, scores = None, np.zeros(0)
    for start in _starts(near, n):
        left = _taken_off(about, fault_of(about.seen(about.far.and_(start))[0], about))
        steps = grown(left, about.far, reach=reach, worth_index=0.0)
        seen, likely = about.seen(steps)
        fault = fault_of(seen, about)
        score = likely[:n] + likely[n:] + fault.odds
        if best is None:
            best, scores = fault, score
        else:
            best, scores = best.where(score > scores, fault), np.maximum(score, scores)
    assert best is not None
    first = suspects.dates[kept] - BEFORE_DAYS
    return kept, replace(
        best,
        odds=scores - without[:n] - without[n:],
        first=best.first + first,
        low=best.low + first,
        high=best.high + first,
    )


def _at_all(about: Windows, least_statistic_index: float) -> Any:
    """Which could be a fault if the changes of one cell, the other, or both were none."""
    might = np.zeros(about.count, dtype=bool)
    for start in _starts(about.near, about.count):
        fault = fault_of(about.seen(about.far.and_(start))[0], about)
        might |= (fault.odds > 0) & (fault.statistic >= least_statistic_index)
    return might


def _starts(near: Steps, count: int) -> tuple[Steps, Steps, Steps]:
    first = near.columns < count
    return no_steps(), near.of(first), near.of(~first)


def _taken_off(about: Windows, fault: Faults) -> Series:
    """The residuals less what the faults did to them."""
    since = np.arange(len(about.reach))[:, None] >= fault.first
    if about.flows is None:
        moved = since * fault.night_l_s, since * fault.day_l_s
    else:
        night, day = (np.nan_to_num(flow) for flow in about.flows)
        moved = since * fault.share * night, since * fault.share * day
    left = (about.series.night, about.series.day)
    night, day = (v - np.hstack([m, -m]) for v, m in zip(left, moved, strict=True))
    return replace(about.series, night=night, day=day)
