"""What readings say of roughness and offsets: one Gaussian update.

Measured less modelled head is offsets, what is off in roughness and in where water is used (both
through the slopes of the model), what all loggers of a zone have in common in a state (the head the
zone is fed with), and noise of each logger's own.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.linalg import cho_factor, cho_solve
from scipy.sparse import csr_array

from district.hydraulics.model import Reals, Wholes

GROUP_SPREAD = 0.18
"""Standard deviation of the logarithm of a group's roughness about what is told (common practice,
no source: C from a table is right to about a third, 95 %)."""
ALL_SPREAD = 0.08
"""Of what all groups have in common. Assumption."""
PIPE_SPREAD = 0.12
"""Of one pipe about its group. Assumption."""
OFFSET_SPREAD_M = 0.7
"""Of a gauge's zero and level, where the level is told. Common practice, no source: half a per
cent of a range of 100 m, and the survey of the level."""
ZONE_SPREAD_M = 1.0
"""Of the head a zone is fed with: sources' and settings' heads as told. Assumption."""


Stated = tuple[Reals, Reals]


@dataclass(frozen=True, eq=False)
class Readings:
    """K readings of G loggers: head measured, and what may move it.

    logger, state (K)
        which logger and state each is of.
    roughness_m (K, L), use_m (K, N)
        change of head by the logarithm of each link's roughness, and by one standard deviation of
        each node's use.
    member (L, J)
        group each link is fitted with.
    zone (G)
        number of each logger's zone.
    offset_spread_m (G)
        standard deviation of each logger's own offset, as stated.
    """

    logger: Wholes
    state: Wholes
    roughness_m: Reals
    use_m: Reals
    member: csr_array
    zone: Wholes
    offset_spread_m: Reals


@dataclass(frozen=True, eq=False)
class Learnt:
    """Standard deviations: `noise_m` of each logger's own, `common_m` of what a zone's loggers have
    in common in a state, `offset_m` (G). `trust` (G), 1 or less: a logger's noise counts as its
    root times larger. `doubt_index`: what the stated variances of roughness and use are multiplied
    by."""

    noise_m: float
    common_m: float
    offset_m: Reals
    trust: Reals
    doubt_index: float = 1.0


@dataclass(frozen=True, eq=False)
class Offsets:
    """By logger (G): `together_m` reads above the model, its zone's head as fed included; `own_m`
    of it is the logger's own, with its standard deviation `own_spread_m`."""

    together_m: Reals
    own_m: Reals
    own_spread_m: Reals


@dataclass(frozen=True, eq=False)
class Weighed:
    """Readings with the covariance of their errors, factored.

    to_roughness (L, K)
        covariance of the logarithm of each link's factor with each reading.
    """

    readings: Readings
    learnt: Learnt
    to_roughness: Reals
    factor: Any

    def solved(self, right: Any) -> Reals:
        """The inverse of the readings' covariance times `right` (K, ...)."""
        return np.asarray(cho_solve(self.factor, right))


def weighed(readings: Readings, learnt: Learnt, stated: Stated | None = None) -> Weighed:
    """Factor the covariance of the readings; `stated` is what `stated_covariance` gives."""
    covariance, to_roughness = stated or stated_covariance(readings)
    whole = learnt.doubt_index * covariance + error_covariance(readings, learnt)
    return Weighed(readings, learnt, learnt.doubt_index * to_roughness, cho_factor(whole))


def stated_covariance(readings: Readings) -> Stated:
    """What roughness and use alone make of the readings' covariance (K, K), and `to_roughness`."""
    slope, member = readings.roughness_m, readings.member
    fitted = _fitted(member)
    by_group = slope @ member
    by_all = slope @ fitted
    to_roughness = (
        GROUP_SPREAD**2 * (member @ by_group.T)
        + ALL_SPREAD**2 * np.outer(fitted, by_all)
        + PIPE_SPREAD**2 * (slope * fitted).T
    )
    return slope @ to_roughness + readings.use_m @ readings.use_m.T, to_roughness


def error_covariance(readings: Readings, learnt: Learnt) -> Reals:
    """What offsets, the zone's fed head and noise make of it (K, K)."""
    logger, state = readings.logger, readings.state
    zone = readings.zone[logger]
    covariance = _offset_covariance(readings, learnt)[np.ix_(logger, logger)]
    alike = (zone[:, None] == zone) & (state[:, None] == state)
    noise = learnt.noise_m**2 / learnt.trust[logger]
    return np.asarray(covariance + learnt.common_m**2 * alike + np.diag(noise))


def log_roughness(by: Weighed, left_m: Reals) -> Reals:
    """Expected logarithm of each link's factor (L), `left_m` (K) being what is to explain."""
    return np.asarray(by.to_roughness @ by.solved(left_m))


def mean_factors(by: Weighed, weight: Reals, left_m: Reals) -> tuple[Reals, Reals, Reals]:
    """Of weighted means of those logarithms: value, standard deviation, and that before readings.

    `weight` (J, L): what each link counts in each mean.
    """
    member = by.readings.member
    to = weight @ by.to_roughness
    before = by.learnt.doubt_index * (
        GROUP_SPREAD**2 * ((weight @ member) ** 2).sum(axis=1)
        + ALL_SPREAD**2 * (weight @ _fitted(member)) ** 2
        + PIPE_SPREAD**2 * (weight**2 @ _fitted(member))
    )
    after = before - np.einsum("jk,kj->j", to, by.solved(to.T))
    return to @ by.solved(left_m), np.sqrt(np.maximum(after, 0.0)), np.sqrt(before)


def offsets(by: Weighed, left_m: Reals) -> Offsets:
    """What of `left_m` is the loggers' offsets."""
    at, weight = by.readings, by.solved(left_m)
    together = _offset_covariance(at, by.learnt)[:, at.logger]
    prior = by.learnt.offset_m**2
    own = prior[:, None] * (np.arange(len(prior))[:, None] == at.logger)
    after = prior - np.einsum("gk,kg->g", own, by.solved(own.T))
    return Offsets(together @ weight, own @ weight, np.sqrt(np.maximum(after, 0.0)))


def use_departures(by: Weighed, left_m: Reals) -> Reals:
    """Expected departure of each node's use from its share (N), in standard deviations."""
    return np.asarray(by.learnt.doubt_index * (by.readings.use_m.T @ by.solved(left_m)))


def joint_draws(
    by: Weighed, left_m: Reals, *, rng: np.random.Generator, count: int
) -> tuple[Reals, Reals]:
    """Draws of the logarithm of each link's factor (count, L), and with each of them of how far
    each node's use departs from its share (count, N; standard deviations), given the readings.

    Drawn as before the readings, then corrected by what they change (Matheron's rule; Journel &
    Huijbregts 1978, from memory).
    """
    at, learnt = by.readings, by.learnt
    links, groups = at.member.shape
    fitted = _fitted(at.member)
    before = np.sqrt(learnt.doubt_index) * (
        GROUP_SPREAD * (rng.standard_normal((count, groups)) @ at.member.T)
        + ALL_SPREAD * rng.standard_normal((count, 1)) * fitted
        + PIPE_SPREAD * rng.standard_normal((count, links)) * fitted
    )
    use = np.sqrt(learnt.doubt_index) * rng.standard_normal((count, at.use_m.shape[1]))
    root = np.linalg.cholesky(error_covariance(at, learnt))
    would = (
        before @ at.roughness_m.T
        + use @ at.use_m.T
        + rng.standard_normal((count, len(at.logger))) @ root.T
    )
    told = by.solved((left_m - would).T)
    return (
        before + (by.to_roughness @ told).T,
        use + learnt.doubt_index * (at.use_m.T @ told).T,
    )


def _fitted(member: csr_array) -> Reals:
    return np.asarray(member.sum(axis=1))


def _offset_covariance(readings: Readings, learnt: Learnt) -> Reals:
    alike = readings.zone[:, None] == readings.zone
    return np.asarray(np.diag(learnt.offset_m**2) + ZONE_SPREAD_M**2 * alike)
