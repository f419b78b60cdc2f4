"""Factors of noise found again in drawn days; its covariance against drawn changes."""

from __future__ import annotations

import numpy as np
import pytest

from district.locate.pressure_noise import Part, change_noise, fitted

SIZE = 6


def parts() -> tuple[Part, ...]:
    random = np.random.default_rng(1)
    use = random.normal(size=(SIZE, 3))
    return (
        Part(np.eye(SIZE), 0.5),
        Part(np.ones((SIZE, SIZE)), 0.5, 0.9),
        Part(use @ use.T, 0.5),
        Part(np.eye(SIZE), 0.03, 1.0),
    )


def drawn(random: np.random.Generator, days: int, factor: np.ndarray) -> np.ndarray:
    total = np.zeros((days, SIZE))
    day = np.arange(days)
    for part, size in zip(parts(), factor, strict=True):
        together = part.kept ** np.abs(np.subtract.outer(day, day)) if part.kept < 1 else (
            np.minimum.outer(day, day) + 1.0
        )  # fmt: skip
        root = np.linalg.cholesky(together + 1e-9 * np.eye(days))
        shape = np.linalg.cholesky(part.shape + 1e-9 * np.eye(SIZE))
        total += np.sqrt(size) * root @ random.normal(size=(days, SIZE)) @ shape.T
    return total


def test_factors_are_found_again() -> None:
    truth = np.array([1.0, 2.0, 0.3, 0.02])
    found = []
    for seed in range(12):
        days = drawn(np.random.default_rng(seed), 60, truth)
        found.append(fitted((days - days.mean(axis=0),), parts()))
    assert np.median(found, axis=0) == pytest.approx(truth, rel=0.35)


def test_without_readings_the_usual_stands() -> None:
    none = (np.zeros((1, SIZE)), np.zeros((1, SIZE)))
    assert fitted(none, parts()) == pytest.approx([0.5, 0.5, 0.5, 0.03])


def test_the_noise_of_a_change_is_that_of_drawn_changes() -> None:
    truth = np.array([1.0, 2.0, 0.3, 0.02])
    weight = np.r_[np.full(10, -0.1), np.full(5, 0.2)]
    random = np.random.default_rng(9)
    seen = np.array([weight @ drawn(random, 15, truth) for _ in range(4000)])
    noise = change_noise(parts(), truth, weight, np.arange(15.0))
    assert np.cov(seen.T) == pytest.approx(noise, abs=0.08 * noise.max())
