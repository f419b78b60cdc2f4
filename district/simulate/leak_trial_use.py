"""What the users of a drawn zone take, hour by hour, at the nodes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.sparse import csr_array

from district.hydraulics.model import Reals, Wholes
from district.simulate.leak_trial_map import ZoneMap
from district.simulate.trial_use import course

HOURS = 24
_NIGHT_SHARE = 0.12
"""Use in the night window over the mean of the day: 1.7 litres a property an hour of about 350 a
day (household night use from memory: UK Managing Leakage 1994)."""
_DRAW_L = 20.0
"""Litres drawn at once, on average, weighed by volume: variance over mean of an hour's volume."""
_CLASSES = ("household", "commercial")
_WEEKEND = {"household": 1.08, "commercial": 0.45}


@dataclass(frozen=True, eq=False)
class ZoneUse:
    """Use over T hours at N nodes; R reference hours, 24 of a weekday and 24 of the weekend.

    reference (T)
        row of `usual_l_s` each hour belongs to.
    usual_l_s (R, N)
        mean use of such an hour.
    drawn_l_s (T, N)
        use in truth.
    metered_l_s (T, M)
        of it, that of the users whose meter is read by the hour, in order of `taps`.
    """

    reference: Wholes
    usual_l_s: Reals
    drawn_l_s: Reals
    metered_l_s: Reals


def tap_shares(drawn: ZoneMap) -> csr_array:
    """How each connection's draw is shared between the ends of its main, (connections, N)."""
    taps = drawn.taps
    pipe, share = taps["pipe"].to_numpy(), taps["share"].to_numpy()
    ends = drawn.pipes[["start", "end"]].to_numpy()[pipe]
    return csr_array(
        (
            np.column_stack([1.0 - share, share]).ravel(),
            (np.repeat(np.arange(len(taps)), 2), ends.ravel()),
        ),
        shape=(len(taps), len(drawn.nodes)),
    )


def reference_use(drawn: ZoneMap) -> Reals:
    """Mean use at each node in each reference hour, (48, N), L/s."""
    mean = _at_nodes(drawn, drawn.taps["mean_l_s"].to_numpy()[:, None])
    return sum((_course(c).reshape(-1, 1) * by_node for c, by_node in mean.items()), np.zeros(1))


def draw_use(rng: np.random.Generator, drawn: ZoneMap, days: pd.DatetimeIndex) -> ZoneUse:
    """Draw the use of every hour of `days`.

    All users rise and fall together (weather, season: about 4 % by day, 2 % by hour), each has its
    own days (30 %) and its own weeks (20 %, over about ten days), and an hour is made of single
    draws. Assumptions.
    """
    taps, shape = drawn.taps, (len(drawn.taps), len(days))
    weekend = (days.day_of_week.to_numpy() >= 5).astype(np.int64)
    own = 1.0 + wander(rng, 0.2, 0.9, shape) + rng.normal(0.0, 0.3, shape)
    own = own.clip(0.0) * taps["mean_l_s"].to_numpy()[:, None]
    together = 1.0 + wander(rng, 0.04, 0.6, (1, len(days))).T
    together = together * rng.normal(1.0, 0.02, (len(days), HOURS))
    courses = {c: (_course(c)[weekend] * together).clip(0.0) for c in _CLASSES}

    metered = np.flatnonzero(taps["meter_id"] != "")
    of_class = (taps["use_class"].iloc[metered] == _CLASSES[1]).to_numpy().astype(np.int64)
    by_meter = np.stack([courses[c] for c in _CLASSES], axis=-1)[:, :, of_class]
    read = _in_single_draws(rng, by_meter * own[metered].T[:, None, :])
    rest = own.copy()
    rest[metered] = 0.0
    by_node = sum(
        (courses[c][:, :, None] * at[:, None, :] for c, at in _at_nodes(drawn, rest).items()),
        np.zeros(1),
    )
    total = _in_single_draws(rng, by_node) + read @ tap_shares(drawn)[metered]
    reference = (weekend[:, None] * HOURS + np.arange(HOURS)).ravel()
    return ZoneUse(reference, reference_use(drawn), total, read)


def wander(
    rng: np.random.Generator, spread_share: float, kept_share: float, shape: tuple[int, int]
) -> Reals:
    """First-order wander along the second axis about 0, of standard deviation `spread_share`, of
    which `kept_share` stays from day to day."""
    steps = rng.normal(0.0, spread_share, shape)
    steps[:, 1:] *= np.sqrt(1.0 - kept_share**2)
    for day in range(1, shape[1]):
        steps[:, day] += kept_share * steps[:, day - 1]
    return np.asarray(steps)


def _course(use_class: str) -> Reals:
    """Use of each hour over the mean of a weekday: (2, 24), weekday and weekend."""
    by_hour = course(use_class).reshape(HOURS, -1).mean(axis=1)
    weekday = _NIGHT_SHARE + (1.0 - _NIGHT_SHARE) * by_hour
    later = (np.roll(weekday, 1) + np.roll(weekday, 2)) / 2
    return np.stack([weekday, _WEEKEND[use_class] * later])


def _at_nodes(drawn: ZoneMap, mean_l_s: Reals) -> dict[str, Reals]:
    """Use of each class at the nodes, (D, N), of that of the connections, (connections, D)."""
    shares, use = tap_shares(drawn).T.tocsr(), drawn.taps["use_class"].to_numpy()
    return {c: (shares @ (mean_l_s * (use == c)[:, None])).T for c in _CLASSES}


def _in_single_draws(rng: np.random.Generator, mean_l_s: Reals) -> Reals:
    """Hours made of single draws, (T, ...), of their means by day and hour, (D, 24, ...)."""
    mean_l_s = mean_l_s.reshape(len(mean_l_s) * HOURS, -1 if mean_l_s.size else 0)
    per_draw_l_s = _DRAW_L / 3600.0
    return np.asarray(rng.standard_gamma(mean_l_s / per_draw_l_s) * per_draw_l_s)
