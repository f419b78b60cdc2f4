"""Walks and spots typed for the tests of locating."""

from __future__ import annotations

import numpy as np

from district.locate.spots import Spots
from district.locate.walk import Walk


def walk(lengths_m: list[float], *, spacing_m: float = 10.0) -> Walk:
    """Stretches of these lengths one after another, a spot every `spacing_m`."""
    count = np.array([max(1, round(m / spacing_m)) for m in lengths_m])
    stretch = np.repeat(np.arange(len(count)), count)
    first = np.cumsum(count) - count
    each = (np.array(lengths_m) / count)[stretch]
    begin = (np.arange(len(stretch)) - first[stretch]) * each
    return Walk(np.arange(len(stretch)), stretch, np.arange(len(count)), first, begin, begin + each)


def even(street: Walk) -> np.ndarray:
    """Logarithm of a prior by length."""
    return np.asarray(np.log(street.end_m - street.begin_m))


def likely(count: int, at: int, times: float) -> np.ndarray:
    """Log likelihood over `count` spots that is `times` as large at one."""
    found = np.zeros(count)
    found[at] = np.log(times)
    return found


def plain_spots(service_share: np.ndarray) -> Spots:
    """One spot a pipe of 10 m in zone V1."""
    count = len(service_share)
    return Spots(
        pipe=np.arange(count),
        share=np.full(count, 0.5),
        length_m=np.full(count, 10.0),
        cell_id=np.full(count, "V1"),
        x_m=10.0 * np.arange(count),
        y_m=np.zeros(count),
        leaks_per_year=np.full(count, 0.001),
        service_share=service_share,
    )
