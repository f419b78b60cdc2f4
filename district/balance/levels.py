"""The levels that residuals follow, and how much a lasting shift on each day would explain.

Night and day of a cell are two levels that drift, read with white noise: y = level + e. One pass
forward (Kalman 1960, from memory) and one back (de Jong & Penzer 1998, J Am Stat Assoc 93, from
memory) give, for every day at once, the least-squares shift of the levels from that day on, given
all other changes, with its covariance.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

import numpy as np

from district.balance.contest import Chance, Observed
from district.estimates import Array

_UNREAD = 1e12  # variance of what is not known, in variances of a day
_FIRST = 1e6  # of the first level
_LOST = 1e9
SWAY_SHARE = 0.02
"""How much a leak varies from day to day (common practice, no source)."""


@dataclass(frozen=True, eq=False)
class Added:
    """Covariance of the changes already known, days x columns: night, day, cross; L²/s²."""

    night: Array
    day: Array
    cross: Array

    def put(self, days: Any, columns: Any, usual: tuple[Any, Any, Any]) -> None:
        """Add changes of covariance `usual` on these days of these columns, in place."""
        for part, value in zip((self.night, self.day, self.cross), usual, strict=True):
            np.add.at(part, (days, columns), value)

    def of(self, columns: Any) -> Added:
        """A copy of some columns."""
        return Added(*(getattr(self, part.name)[:, columns] for part in fields(self)))


def none_added(shape: tuple[int, ...]) -> Added:
    """No change yet."""
    return Added(np.zeros(shape), np.zeros(shape), np.zeros(shape))


def levelled(night: Array, day: Array, made: Chance, added: Added) -> tuple[Observed, Array]:
    """The shift that each day shows, days x columns, and each column's log likelihood.

    Parameters: `night` and `day` in L/s, NaN where not known; `made` the noise of each column.
    """
    scale = np.maximum(made.night.white, made.day.white)
    w = made.alike * np.sqrt(made.night.white * made.day.white)
    sway_n, sway_d = _sway(night), _sway(day)
    know_n, know_d = np.isfinite(night), np.isfinite(day)
    r_n = np.where(know_n, made.night.white + sway_n, _UNREAD * scale)
    r_d = np.where(know_d, made.day.white + sway_d + _halves(added.day), _UNREAD * scale)
    r_c = np.where(know_n & know_d, w, 0.0)
    y_n, y_d = np.nan_to_num(night), np.nan_to_num(day)
    kept = np.empty((9, *night.shape))
    m_n, m_d = _first(y_n, know_n), _first(y_d, know_d)
    p, q, s = _FIRST * scale, _FIRST * scale, np.zeros(night.shape[1])
    likely = np.zeros(night.shape[1])
    for t in range(len(night)):
        if t:
            p = p + made.night.drift + added.night[t]
            q = q + made.day.drift + added.day[t]
            s = s + added.cross[t]
        a, b, c = p + r_n[t], q + r_d[t], s + r_c[t]
        square = a * b - c * c
        i_a, i_b, i_c = b / square, a / square, -c / square
        e_n = np.where(know_n[t], y_n[t] - m_n, 0.0)
        e_d = np.where(know_d[t], y_d[t] - m_d, 0.0)
        u_n, u_d = i_a * e_n + i_c * e_d, i_c * e_n + i_b * e_d
        likely -= 0.5 * (np.log(square) + e_n * u_n + e_d * u_d)
        m_n, m_d = m_n + p * u_n + s * u_d, m_d + s * u_n + q * u_d
        # L = I - P F^-1
        l_nn, l_nd = 1.0 - p * i_a - s * i_c, -p * i_c - s * i_b
        l_dn, l_dd = -s * i_a - q * i_c, 1.0 - s * i_c - q * i_b
        kept[:, t] = u_n, u_d, i_a, i_b, i_c, l_nn, l_nd, l_dn, l_dd
        p, s, q = l_nn * p + l_nd * s, l_nn * s + l_nd * q, l_dn * s + l_dd * q
    return _back(kept), likely


def _sway(values: Array) -> Array:
    """Variance that what flows beyond the usual adds: it sways with pressure from day to day."""
    ordered = np.sort(values, axis=0)  # NaN last
    middle = np.maximum(np.isfinite(values).sum(axis=0) - 1, 0) // 2
    if not len(values):
        return values
    usual = np.take_along_axis(ordered, middle[None], 0)
    return np.asarray(np.nan_to_num(SWAY_SHARE * (values - usual)) ** 2)


def _halves(added: Array) -> Array:
    """Variance of the day before a change: it may have begun at any hour of it."""
    if not len(added):
        return added
    return np.vstack([added[1:], np.zeros((1, added.shape[1]))]) / 3.0


def _back(kept: Array) -> Observed:
    """From each day's weighted surprise to what a shift since it would explain."""
    shape = kept.shape[1:]
    out = np.empty((5, *shape))
    x, y, a, b, c = (np.zeros(shape[1]) for _ in range(5))
    for t in range(shape[0] - 1, -1, -1):
        u_n, u_d, i_a, i_b, i_c, l_nn, l_nd, l_dn, l_dd = kept[:, t]
        x, y = u_n + l_nn * x + l_dn * y, u_d + l_nd * x + l_dd * y
        # N = F^-1 + L' N L
        t_nn, t_nd = a * l_nn + c * l_dn, a * l_nd + c * l_dd
        t_dn, t_dd = c * l_nn + b * l_dn, c * l_nd + b * l_dd
        a = i_a + l_nn * t_nn + l_dn * t_dn
        b = i_b + l_nd * t_nd + l_dd * t_dd
        c = i_c + l_nn * t_nd + l_dn * t_dd
        out[:, t] = x, y, a, b, c
    # What nothing tells has the precision of a boundless variance.
    x, y, a, b, c = out[0], out[1], out[2] + 1 / _LOST, out[3] + 1 / _LOST, out[4]
    square = a * b - c * c
    by_night, by_day, both = b / square, a / square, -c / square
    return Observed(by_night * x + both * y, both * x + by_day * y, by_night, by_day, both)


def _first(values: Array, known: Any) -> Array:
    """The first known value of each column, 0 without one."""
    if not len(values):
        return np.zeros(values.shape[1])
    first = np.take_along_axis(values, known.argmax(axis=0)[None], 0)[0]
    return np.where(known.any(axis=0), first, 0.0)
