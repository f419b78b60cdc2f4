"""What may have shifted a cell: a leak, its use, a meter, water past a shut valve; how likely each.

Each explanation is a signature with a spread of sizes that are usual for it. Its weight is the
log likelihood ratio to 'nothing happened', sizes averaged out (so that a second free size costs
what it should; Schwarz 1978, Ann Stat 6, from memory), plus the log of how often such a thing
begins. The ratio of a single free size is half of T = (f'H^-1 r)^2 / (f'H^-1 f), the generalized
likelihood ratio by which a bias of a meter is told from a leak (Narasimhan & Mah 1987, AIChE J
33(9), from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from district.balance.shifts import Noise, alike, mean_after, noise
from district.estimates import Array

BEGIN_PER_YEAR = {"leak": 2.0, "use": 0.5, "meter": 0.2, "valve": 0.05, "pipe": 0.01}
"""How often each begins, a cell or meter or pair (common practice, no source): a leak or repair,
a change of use, a meter going wrong, a valve recorded shut passing, a link no map shows."""
METER_SHARE = 0.15
"""Usual size of a meter's fault, as a share of its flow (common practice, no source)."""
USE_SHARE = 0.15
"""Usual size of a lasting change of a cell's use, as a share of it (common practice, no source)."""
DRIFT_SHARE = 0.02
"""How far a cell's use drifts from that of the others over 100 days (common practice, no
source)."""
_NIGHT_DRIFT = 0.3  # of that by night
_LEAK_SHARE = 0.1  # usual size of a leak, of the cell's use by day
_FACTOR_SPREAD = 0.1  # how far k of a leak may lie from the cell's
_NIGHT_OF_USE = (0.15, 0.15)  # share of a change of use that shows at night, and its spread
_ALONG = 0.9  # how alike a passing flow is by night and by day
_LEAST_L_S = 0.01


@dataclass(frozen=True, eq=False)
class Pairs:
    """Pairs of cells between which water may pass unmetered: positions, and the valves between."""

    first: Any
    second: Any
    valves: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, eq=False)
class Chance:
    """What chance makes of the residuals of some cells: noise by night and day, how alike."""

    night: Noise
    day: Noise
    alike: Array

    def of(self, cells: Any) -> Chance:
        """That of the cells at these positions."""
        return Chance(self.night.of(cells), self.day.of(cells), self.alike[cells])


@dataclass(frozen=True, eq=False)
class Observed:
    """Shift by night and by day before and after each date, days x cells, and its covariance."""

    night_l_s: Array
    day_l_s: Array
    night_variance: Array
    day_variance: Array
    covariance: Array

    def precision(self) -> tuple[Array, Array, Array]:
        """Inverse of each 2 x 2 covariance: night, day, cross."""
        square = self.night_variance * self.day_variance - self.covariance**2
        return (
            self.day_variance / square,
            self.night_variance / square,
            -self.covariance / square,
        )


def chance(use_l_s: Array, night: Array, day: Array, *, settled: bool) -> Chance:
    """Noise of the residuals, days x cells, in L/s; `settled` if changes are taken off them."""
    usual = np.maximum(use_l_s, _LEAST_L_S)
    floor = np.maximum(0.002 * usual, _LEAST_L_S / 10)
    drift = DRIFT_SHARE * usual
    return Chance(
        noise(night, floor_l_s=floor, drift_l_s=drift * _NIGHT_DRIFT, settled=settled),
        noise(day, floor_l_s=floor, drift_l_s=drift, settled=settled),
        alike(night, day) if settled else np.zeros(len(usual)),
    )


@dataclass(frozen=True, eq=False)
class Alone:
    """The likeliest of a leak, a change of use and both, beginning in the cell itself.

    `odds` against nothing, log; `usual` the covariance of such a change (night, day, cross) and
    `often` the log of how often one begins on a day; `night_l_s` and `day_l_s` what it explains
    of the shift. All days x cells.
    """

    odds: Array
    usual: tuple[Array, Array, Array]
    often: Array
    night_l_s: Array
    day_l_s: Array


def alone(seen: Observed, *, use_l_s: Array, factor_share: Array) -> Alone:
    """What is likeliest to have begun on each date in each cell by itself."""
    n, d = seen.night_l_s, seen.day_l_s
    usual = np.maximum(use_l_s, _LEAST_L_S)
    leak = np.maximum((_LEAK_SHARE * usual) ** 2, n**2)
    use = np.maximum((USE_SHARE * usual) ** 2, d**2)
    at_night, strays = _NIGHT_OF_USE
    leaks = leak, leak * (factor_share**2 + _FACTOR_SPREAD**2), leak * factor_share
    uses = use * (at_night**2 + strays**2), use, use * at_night
    kinds = leaks, uses, tuple(a + b for a, b in zip(leaks, uses, strict=True))
    often = [float(np.log(BEGIN_PER_YEAR[kind] / 365.0)) for kind in ("leak", "use")]
    often.append(sum(often))
    odds = np.stack([_gain(seen, k) + w for k, w in zip(kinds, often, strict=True)])
    best = odds.argmax(axis=0)[None]

    def picked(values: Any) -> Array:
        return np.asarray(np.take_along_axis(np.stack(values), best, 0)[0])

    parts = [picked([k[part] for k in kinds]) for part in range(3)]
    night, day = _kept(seen, parts)
    usually = parts[0], parts[1], parts[2]
    return Alone(picked(odds), usually, np.asarray(often)[best[0]], night, day)


def _gain(seen: Observed, usual: Any) -> Array:
    """log N(shift; 0, H + K) - log N(shift; 0, H), H what is by chance, K what is usual."""
    narrow = seen.night_variance, seen.day_variance, seen.covariance
    wide = tuple(s + u for s, u in zip(narrow, usual, strict=True))
    squares = [a * b - c**2 for a, b, c in (narrow, wide)]
    n, d = seen.night_l_s, seen.day_l_s
    forms = [
        (b * n**2 - 2 * c * n * d + a * d**2) / square
        for (a, b, c), square in zip((narrow, wide), squares, strict=True)
    ]
    return np.asarray(0.5 * (forms[0] - forms[1] - np.log(squares[1] / squares[0])))


def _kept(seen: Observed, usual: Any) -> tuple[Array, Array]:
    """The shift drawn towards nothing by its noise: K (H + K)^-1 d."""
    narrow = seen.night_variance, seen.day_variance, seen.covariance
    a, b, c = (s + u for s, u in zip(narrow, usual, strict=True))
    n, d, square = seen.night_l_s, seen.day_l_s, a * b - c**2
    x, y = (b * n - c * d) / square, (a * d - c * n) / square
    return usual[0] * x + usual[2] * y, usual[2] * x + usual[1] * y


@dataclass(frozen=True, eq=False)
class MeterOdds:
    """Days x meters that lie between two balanced cells."""

    odds: Array
    share: Array
    """What each reads too much, of what it reads, and its standard deviation."""
    deviation: Array
    statistic: Array


def meter_odds(
    seen: Observed, *, into: Any, out_of: Any, night_flow_l_s: Array, day_flow_l_s: Array
) -> MeterOdds:
    """Log odds that each meter went wrong by a share of its flow on each date, against nothing.

    Parameters: `into` and `out_of` the columns of `seen` into and out of which it carries the
    flows (days x meters).
    """
    precision = seen.precision()
    x, y = _pull(seen, precision)
    q, p = mean_after(night_flow_l_s), mean_after(day_flow_l_s)
    towards = q * (x[:, into] - x[:, out_of]) + p * (y[:, into] - y[:, out_of])
    a, b, c = (part[:, into] + part[:, out_of] for part in precision)
    weight = np.maximum(a * q**2 + b * p**2 + 2 * c * q * p, 1e-12)
    share = towards / weight
    spread = METER_SHARE**2
    odds = 0.5 * (towards**2 / (weight + 1 / spread) - np.log1p(spread * weight))
    odds += np.log(BEGIN_PER_YEAR["meter"] / 365.0)
    return MeterOdds(odds, share, 1 / np.sqrt(weight), towards**2 / weight)


def pair_odds(seen: Observed, pairs: Pairs, *, use_l_s: Array) -> tuple[Array, Array, Array]:
    """Log odds of an unmetered flow into the first cell of each pair, and that flow (night, day).

    A valve that passes gives much the same by night and by day, but either may be anything.
    """
    one, two = pairs.first, pairs.second
    precision = seen.precision()
    a, b, c = (part[:, one] + part[:, two] for part in precision)
    x, y = (part[:, one] - part[:, two] for part in _pull(seen, precision))
    square = a * b - c**2
    flow = (b * x - c * y) / square, (a * y - c * x) / square
    least = (_LEAK_SHARE * np.maximum(np.minimum(use_l_s[one], use_l_s[two]), _LEAST_L_S)) ** 2
    spread = np.maximum(least, np.maximum(flow[0] ** 2, flow[1] ** 2))
    # The usual flows have covariance K = spread x [[1, r], [r, 1]]; the form is x'(P + K^-1)^-1 x.
    inner = 1 / (spread * (1 - _ALONG**2))
    a, b, c = a + inner, b + inner, c - _ALONG * inner
    form = (b * x**2 - 2 * c * x * y + a * y**2) / (a * b - c**2)
    grown = (a * b - c**2) * spread**2 * (1 - _ALONG**2)
    often = np.array([BEGIN_PER_YEAR["valve" if v else "pipe"] for v in pairs.valves])
    return 0.5 * (form - np.log(grown)) + np.log(often / 365.0), flow[0], flow[1]


def _pull(seen: Observed, precision: Any) -> tuple[Array, Array]:
    a, b, c = precision
    n, d = seen.night_l_s, seen.day_l_s
    return a * n + c * d, c * n + b * d
