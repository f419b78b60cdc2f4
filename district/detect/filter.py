"""What each place is expected to flow tonight: a Kalman filter over level, wander and rhythm.

The flow of a night is a level, a slow wander about it, the noise that is carried over from the
night before, and the effects of weekday, holiday, season and of what other zones share; levels and
effects are known as far as the nights so far tell them (Kalman 1960, Journal of Basic Engineering
82, from memory). So a season that one year has hardly shown does not raise alarms in the next, and
a step is held against all that might explain it. Flows are counted in each place's own noise.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from district.detect.baseline import Flags, Reals
from district.detect.rhythm import DAY_FEATURES
from district.night_noise import WANDER as NIGHT_WANDER
from district.night_noise import WANDER_NIGHTS

LEVEL, WANDER, CARRIED, FIRST_EFFECT = 0, 1, 2, 3
"""Where these stand among the components."""
USUAL_CARRY = 0.25
"""Correlation of one night with the next, before a place has shown its own."""
# In standard deviations of the noise: what is believed of each component before the first night.
_LEVEL, _DAY, _HOLIDAY, _COMMON = 3.0, 0.5, 0.5, 1.0
_YEARLY, _HALF_YEARLY = 2.0, 0.7
_WANDER_KEPT = float(np.exp(-1 / WANDER_NIGHTS))
_LEAST = 1e-3  # variance of what none of these explain: keeps every night's above 0


@dataclass(eq=False)
class Filter:
    """Mean and covariance of the components of each place, in its noise; filled in place.

    mean
        shape (places, components): level, wander, carried noise, effects of the features, and
        last, where places share a movement, its effect.
    cov
        shape (places, components, components).
    carry_share
        shape (places,): correlation of one night's noise with the next.
    """

    mean: Reals
    cov: Reals
    carry_share: Reals


@dataclass(frozen=True, eq=False)
class Outlook:
    """Tonight, before it is known, in the noise of each place.

    flow, variance
        shape (places,): expected flow, and the variance of the surprise.
    gain, pull
        shape (places, components): what each unit of surprise moves; covariance with the flow.
    design
        shape (places, components): how much of each component is in the flow.
    """

    flow: Reals
    variance: Reals
    gain: Reals
    pull: Reals
    design: Reals


def begun_filter(level: Reals, features_count: int, *, shared: bool) -> Filter:
    """Before the first night. Parameters: `level` shape (places,), a first guess, in the noise."""
    waves = features_count - DAY_FEATURES
    effects = [_DAY] * (DAY_FEATURES - 2) + [_HOLIDAY] * 2
    effects += [_YEARLY] * min(waves, 2) + [_HALF_YEARLY] * max(waves - 2, 0)
    sd = np.array([_LEVEL, NIGHT_WANDER, 1.0, *effects, *([_COMMON] if shared else [])])
    mean = np.zeros((len(level), len(sd)))
    mean[:, LEVEL] = level
    cov = np.repeat(np.diag(sd**2)[None], len(level), axis=0)
    return Filter(mean, cov, np.full(len(level), USUAL_CARRY))


def passed(mean: Reals, carry_share: Reals) -> None:
    """What a night's passing leaves of components, shape (..., places, components); in place."""
    mean[..., WANDER] *= _WANDER_KEPT
    mean[..., CARRIED] *= carry_share


def next_night(f: Filter, features: Reals, common: Reals | None) -> Outlook:
    """Let a night pass, and look ahead to it.

    Parameters: `features` of the night, shape (features,); `common` shape (places,), the movement
    shared, or None.
    """
    passed(f.mean, f.carry_share)
    for at, kept in ((WANDER, _WANDER_KEPT), (CARRIED, f.carry_share[:, None])):
        f.cov[:, at, :] *= kept
        f.cov[:, :, at] *= kept
    f.cov[:, WANDER, WANDER] += NIGHT_WANDER**2 * (1 - _WANDER_KEPT**2)
    f.cov[:, CARRIED, CARRIED] += 1 - f.carry_share**2
    design = np.ones((len(f.mean), f.mean.shape[1]))
    design[:, FIRST_EFFECT : FIRST_EFFECT + len(features)] = features
    if common is not None:
        design[:, -1] = common
    pull = (f.cov @ design[:, :, None])[:, :, 0]
    variance = (pull * design).sum(axis=1) + _LEAST
    return Outlook((design * f.mean).sum(axis=1), variance, pull / variance[:, None], pull, design)


def taken(f: Filter, outlook: Outlook, surprise: Reals, known: Flags) -> None:
    """Take in the night where it is `known`; `surprise` shape (places,): flow above the outlook."""
    gain = np.where(known[:, None], outlook.gain, 0.0)
    f.mean += gain * surprise[:, None]
    f.cov -= gain[:, :, None] * outlook.pull[:, None, :]


def usual(f: Filter, features: Reals, common: Reals | None) -> Reals:
    """What the effects known now make of some nights, shape (nights, places), in the noise.

    Parameters: `features` shape (nights, features), `common` shape (nights, places) or None.
    """
    effects = f.mean[:, FIRST_EFFECT : FIRST_EFFECT + features.shape[1]]
    flow: Reals = features @ effects.T
    return flow if common is None else flow + common * f.mean[:, -1]
