"""What is known of a zone before a leak comes: its pipes, its noise, what loggers hear."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from district.break_rates import Reals
from district.locate.expected_walk import expected_walk_m, sampled_by
from district.locate.listening import Listening, Signs, covariance, no_signs, signs_of
from district.locate.pooling import Wholes

DRAWS = 8
"""Draws of what the model and the noise may be instead."""
UNKNOWN_SIZE_SHARE = 0.5
"""Standard error of a leak's size in a zone without a balance, as a share of it. Assumption."""
_OTHERS = 600


@dataclass(frozen=True, eq=False)
class Outlook:
    """One zone of P pipes.

    pipe_id (P), start, end (P)
        ends as numbers of nodes.
    length_m, leaks_per_year (P), drawn_per_year (P, D)
        expected leaks, and draws of what they may be instead.
    error_l_s, error_l_s_low, error_l_s_high
        standard error of a change of the zone's night flow; NaN without a balance.
    heard
        None where no logger with a model hears the zone.
    """

    cell_id: str
    pipe_id: tuple[str, ...]
    start: Wholes
    end: Wholes
    length_m: Reals
    leaks_per_year: Reals
    drawn_per_year: Reals
    error_l_s: float
    error_l_s_low: float
    error_l_s_high: float
    heard: Listening | None = None

    def odds(self) -> Reals:
        """Log of expected leaks a metre (P)."""
        a_metre = self.leaks_per_year / np.maximum(self.length_m, 1e-9)
        return np.asarray(np.log(np.maximum(a_metre, 1e-30)))

    def size_error_l_s(self, flow_l_s: float) -> float:
        """Standard error by which the size of a leak of `flow_l_s` is known."""
        known = self.error_l_s == self.error_l_s
        return self.error_l_s if known else UNKNOWN_SIZE_SHARE * flow_l_s

    def signs(self, flow_l_s: float) -> Signs:
        """Signs at the loggers there are, for a leak of `flow_l_s`."""
        if self.heard is None:
            return no_signs(len(self.pipe_id), DRAWS)
        none: Wholes = np.zeros(0, dtype=np.int64)
        return signs_of(self.heard, covariance(self.heard, flow_l_s), none, self.heard.present())


def walks(zone: Outlook, flow_l_s: float, *, leaks: Wholes | None = None) -> tuple[Reals, Reals]:
    """Expected walk to a leak of `flow_l_s` on each pipe (or each of `leaks`), and draws of it.

    Result: metres (J), and metres (R, J) in draws of the model and of its noise, held against a
    sample of the other pipes: they tell how far the figure may be off, not the figure.
    """
    signs, odds, length = zone.signs(flow_l_s), zone.odds(), zone.length_m
    error = zone.size_error_l_s(flow_l_s)
    leaks = np.arange(len(odds)) if leaks is None else leaks
    middle = expected_walk_m(
        signs.middle, odds, length, flow_l_s=flow_l_s, flow_error_l_s=error, leaks=leaks
    )
    if not signs.middle.shape[0]:
        return middle, middle[None]
    sample = sampled_by(length, _OTHERS)
    drawn = [
        expected_walk_m(
            s, odds, length, flow_l_s=flow_l_s, flow_error_l_s=error, leaks=leaks, sample=sample
        )
        for s in signs.drawn
    ]
    return middle, np.array(drawn)


def limits(zone: Outlook, middle: Reals, log_spread: Reals) -> tuple[Reals, Reals]:
    """95 % limits of walks by the spread of their logarithm, none longer than the zone's mains."""
    wide = np.exp(1.96 * log_spread)
    most = np.maximum(middle, zone.length_m.sum())
    return np.asarray(middle / wide), np.asarray(np.minimum(middle * wide, most))


def over_leaks(
    zone: Outlook, leaks: Wholes, weight: Reals, walked_m: Reals, drawn_m: Reals
) -> tuple[float, float, float]:
    """Walk expected over all leaks of a zone, with limits, in metres.

    Parameters: `leaks` (J) that stand for all, each for `weight` (J) of the leaks expected;
    `walked_m` (J) and draws of it (R, J). The draws of the expected leaks count too.
    """
    moved = zone.drawn_per_year[leaks] / np.maximum(zone.leaks_per_year[leaks], 1e-30)[:, None]
    moved = weight[:, None] * moved
    middle = np.average(walked_m, weights=weight)
    by_prior = (walked_m[:, None] * moved).sum(axis=0) / moved.sum(axis=0)
    by_draw = np.average(drawn_m, axis=1, weights=weight)
    spread = np.hypot(np.log(by_prior).std(), np.log(by_draw).std())
    low, high = limits(zone, np.asarray(middle), np.asarray(spread))
    return float(middle), float(low), float(high)
