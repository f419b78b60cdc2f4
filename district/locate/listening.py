"""How the leaks of one zone show at its pressure loggers, and at loggers that it might get."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.linalg import cholesky, solve_triangular

from district.break_rates import Reals
from district.locate.pooling import Wholes

Singles = np.ndarray[Any, np.dtype[np.float32]]


@dataclass(frozen=True, eq=False)
class Listening:
    """n readings (a logger's change of head in one block of the day) of leaks on P pipes.

    logger_id
        names of the loggers there are, then '' for each place that might get one.
    logger (n)
        position of each reading's logger.
    place (loggers)
        position of the pipe a logger that might come would stand on; -1 for those there are.
    change_m (n, P)
        m of head for each L/s of leak, the zone's inflow being as measured.
    noise (n, n)
        covariance of the change between the nights after and before, without any leak, m2.
    drawn_m (R, n, P)
        departures from `change_m` in R draws of what the model does not know.
    noise_share (R)
        by which the noise's standard deviation may be larger or smaller, one for each draw.
    """

    logger_id: tuple[str, ...]
    logger: Wholes
    place: Wholes
    change_m: Singles
    noise: Reals
    drawn_m: Singles
    noise_share: Reals

    def present(self) -> Wholes:
        """Readings of the loggers there are."""
        return np.flatnonzero(self.place[self.logger] < 0)

    def wanted(self) -> list[Wholes]:
        """Readings of each logger that might come."""
        return [np.flatnonzero(self.logger == i) for i in np.flatnonzero(self.place >= 0)]

    def only(self, pipes: Wholes) -> Listening:
        """The same for some of the pipes."""
        return Listening(
            self.logger_id,
            self.logger,
            self.place,
            self.change_m[:, pipes],
            self.noise,
            self.drawn_m[:, :, pipes],
            self.noise_share,
        )


@dataclass(frozen=True, eq=False)
class Signs:
    """What a leak of 1 L/s on each of P pipes does to n readings, in units of their noise and
    free of correlation; as the model has it and in R draws of what it does not know.

    middle (n, P), drawn (R, n, P)
    """

    middle: Singles
    drawn: Singles


def covariance(heard: Listening, flow_l_s: float) -> Reals:
    """Noise of the readings (n, n), with what the model does not know of a leak of `flow_l_s`.

    The latter is taken alike for all pipes of the zone: the mean over pipes and draws.
    """
    if not heard.drawn_m.size or flow_l_s == 0:
        return heard.noise
    spread = np.einsum("rnp,rmp->nm", heard.drawn_m, heard.drawn_m, optimize=True)
    count = heard.drawn_m.shape[0] * heard.drawn_m.shape[2]
    return np.asarray(heard.noise + flow_l_s**2 / count * spread.astype(float))


def signs_of(heard: Listening, spread: Reals, have: Wholes, more: Wholes) -> Signs:
    """Signs of the readings `more`, given those of `have`.

    `spread` as `covariance` gives it. What `more` shares with `have` is taken out first, so that
    the two sets of signs together are free of correlation. `have` may be empty.
    """
    own: Reals = np.asarray(spread[np.ix_(more, more)])
    taken: Reals = np.zeros((len(more), len(have)))
    if len(have):
        both = spread[np.ix_(have, more)]
        taken = np.asarray(np.linalg.solve(spread[np.ix_(have, have)], both).T, dtype=float)
        own = np.asarray(own - taken @ both, dtype=float)
    lower = cholesky(own, lower=True)
    shape = solve_triangular(lower, np.eye(len(more)), lower=True)
    turn = np.zeros((len(more), len(heard.logger)))
    turn[:, more], turn[:, have] = shape, -shape @ taken
    single = turn.astype(np.float32)
    middle = single @ heard.change_m
    scale = heard.noise_share.astype(np.float32)[:, None, None]
    drawn = (middle + np.einsum("mn,rnp->rmp", single, heard.drawn_m, optimize=True)) / scale
    return Signs(middle, drawn)


def no_signs(pipes: int, draws: int) -> Signs:
    """Signs where nothing is heard."""
    none = np.zeros((0, pipes), dtype=np.float32)
    return Signs(none, np.zeros((draws, 0, pipes), dtype=np.float32))
