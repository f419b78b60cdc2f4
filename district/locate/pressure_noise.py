"""How far pressures vary by themselves: by logger, use, source and slow drift, as days tell it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.fft import dct
from scipy.linalg import cho_factor, cho_solve

from district.hydraulics.model import Reals

_ROUNDS = 40
_PRIOR_WEIGHT = 4.0
"""Readings that each component's usual variance counts for."""


@dataclass(frozen=True, eq=False)
class Part:
    """One source of variation over n = loggers x blocks of the day.

    `shape` (n, n): its covariance up to a factor. `usual`: that factor where readings tell
    nothing. `kept`: share of it that stays from one day to the next; 0 begins anew each day, 1 is
    a random walk, whose factor is the variance of a day's step.
    """

    shape: Reals
    usual: float
    kept: float = 0.0


def fitted(left: tuple[Reals, ...], parts: tuple[Part, ...]) -> Reals:
    """Factor of each part, by restricted maximum likelihood.

    Parameters: `left` residuals (days, n) of each window of days next to each other, each with
    mean 0. The cosine transform of a window makes days that begin anew and a random walk
    independent by frequency, and what wanders about a mean nearly so; the likelihood then needs a
    covariance for each group of frequencies only. Maximised by the multiplicative steps of Zhou,
    Hu, Qiao, Cho & Zhou 2019 (from memory), which keep every factor above 0; each
    part's usual factor weighs as much as a few readings.
    """
    groups = _by_frequency(left)
    size = parts[0].shape.shape[0]
    shapes = np.array([p.shape.ravel() for p in parts])
    usual = np.array([p.usual for p in parts])
    factor = usual.copy()
    for _ in range(_ROUNDS):
        up = _PRIOR_WEIGHT * usual / factor**2
        down = _PRIOR_WEIGHT / factor
        for count, angle, scatter in groups:
            weight = np.array([_spectrum(angle, p.kept) for p in parts])
            whole = ((factor * weight) @ shapes).reshape(size, size)
            inverse = cho_solve(cho_factor(whole, lower=True), np.eye(size))
            down += count * weight * (shapes @ inverse.ravel())
            up += weight * (shapes @ (inverse @ scatter @ inverse).ravel())
        factor = factor * np.sqrt(up / down)
    return factor


def change_noise(parts: tuple[Part, ...], factor: Reals, weight: Reals, day_number: Reals) -> Reals:
    """Covariance (n, n) of a weighted sum over days.

    Parameters: `factor` by part, `weight` (days) summing to 0, `day_number` (days) since the first.
    """
    total = np.zeros_like(parts[0].shape)
    for part, size in zip(parts, factor, strict=True):
        total += size * float(weight @ _together(day_number, part.kept) @ weight) * part.shape
    return total


def _together(day_number: Reals, kept: float) -> Reals:
    """Covariance between days of a part with factor 1."""
    if kept >= 1.0:
        return np.minimum.outer(day_number, day_number)
    return np.asarray(kept ** np.abs(np.subtract.outer(day_number, day_number)))


def _spectrum(angle: float, kept: float) -> float:
    """Variance of a part with factor 1 at a frequency (radians a day)."""
    if kept >= 1.0:
        return float(1 / (4 * np.sin(angle / 2) ** 2))
    return float((1 - kept**2) / (1 - 2 * kept * np.cos(angle) + kept**2))


def _by_frequency(left: tuple[Reals, ...]) -> list[tuple[int, float, Reals]]:
    """Like frequencies: how many, their mean in radians a day, sum of squares (n, n)."""
    angles, waves = [], []
    for window in left:
        days = len(window)
        angles.append(np.pi * np.arange(1, days) / days)
        waves.append(dct(window, axis=0, norm="ortho")[1:])
    angle, wave = np.concatenate(angles), np.concatenate(waves)
    octave = np.round(2 * np.log2(angle)).astype(int)
    groups = []
    for level in np.unique(octave):
        own = octave == level
        groups.append((int(own.sum()), float(angle[own].mean()), wave[own].T @ wave[own]))
    return groups
