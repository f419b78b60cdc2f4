"""Likelihood of shapes: against a general reference, and on changes drawn from a seed."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from district.detect.profile import Shifts
from district.detect.shapes import SHAPES, fits, moved_between

NIGHT = (np.arange(24) >= 2) & (np.arange(24) < 4)
FLOW = np.tile(3.0 + 2.0 * np.sin(2 * np.pi * (np.arange(24) - 9) / 24), 2)
ERROR = 0.02


def shift(change: np.ndarray, *, steady: float = 1.0, known: bool = True, seed: int = 1) -> Shifts:
    noise = np.random.default_rng(seed).normal(0, ERROR, 48)
    return Shifts(
        np.array([known]),
        (change + noise)[None],
        FLOW[None],
        np.eye(48)[None] * ERROR**2,
        np.array([steady]),
    )


def best(change: np.ndarray, *, scale: float = 0.5, **more: object) -> str:
    told = fits(
        shift(change, **more),  # type: ignore[arg-type]
        np.array([scale]),
        night=NIGHT,
        meters=[[FLOW]],
    )
    return SHAPES[int(np.argmax(told.log[0]))]


SHIFT = np.tile(np.where((np.arange(24) >= 22) | (np.arange(24) < 6), 1.0, 0.1), 2)


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        (np.full(48, 0.5), "leak"),
        # Pressure a tenth lower at the peak, an exponent of 1: a leak a tenth smaller there.
        (0.5 * (1 - 0.1 * (FLOW - FLOW.min()) / np.ptp(FLOW)), "leak"),
        (0.5 * FLOW / FLOW[2:4].mean(), "meter_fault"),
        (0.5 * SHIFT, "use"),
        (0.5 * np.concatenate([np.ones(24), np.zeros(24)]), "use"),
        (0.5 * np.random.default_rng(2).normal(1, 1.5, 48), "unknown"),
    ],
)
def test_each_cause_explains_its_own_shape(change: np.ndarray, expected: str) -> None:
    assert best(change) == expected


def test_a_meter_that_stands_still_leaves_a_flat_day_without_scatter() -> None:
    change = 4.0 - FLOW
    scale = float(change[2:4].mean())
    assert best(change, scale=scale, steady=0.02) == "stuck"
    # Where days still differ, the only meter does not stand still.
    logs = []
    for steady in (0.02, 1.0):
        own = shift(change, steady=steady)
        wide = Shifts(own.known, own.change_l_s, own.before_l_s, own.covariance * 4e4, own.steady)
        told = fits(wide, np.array([scale]), night=NIGHT, meters=[[FLOW]]).log[0]
        logs.append(told[SHAPES.index("stuck")] - told[SHAPES.index("unknown")])
    assert logs[0] - logs[1] > 5


def test_no_use_makes_a_flow_lower_by_day() -> None:
    told = fits(shift(SHIFT - 0.5), np.array([0.5]), night=NIGHT, meters=[[FLOW]]).log[0]
    up = fits(shift(SHIFT), np.array([1.0]), night=NIGHT, meters=[[FLOW]]).log[0]
    use = SHAPES.index("use")
    assert up[use] == 0.0
    assert told[use] < -5


def test_the_share_of_a_wrong_meter_is_told() -> None:
    told = fits(shift(0.1 * FLOW), np.array([0.1 * FLOW[2:4].mean()]), night=NIGHT, meters=[[FLOW]])
    assert told.meter_share[0] == pytest.approx(0.1, rel=0.05)
    assert told.daily_l_s[0] == pytest.approx(0.3, abs=0.02)


def test_a_fault_of_a_meter_to_the_next_zone_follows_its_flow() -> None:
    other = np.tile(1.0 + (np.arange(24) % 12 > 6), 2).astype(float)
    change = 0.5 * other
    alone = fits(shift(change), np.array([0.5]), night=NIGHT, meters=[[FLOW]])
    both = fits(shift(change), np.array([0.5]), night=NIGHT, meters=[[FLOW, other]])
    meter = SHAPES.index("meter_fault")
    assert both.log[0, meter] == 0.0
    assert alone.log[0, meter] < both.log[0, meter]


def test_unknown_hours_tell_nothing() -> None:
    told = fits(shift(np.full(48, 0.5), known=False), np.array([0.5]), night=NIGHT, meters=[[FLOW]])
    assert np.all(told.log == 0)
    none = Shifts(*(a[:0] for a in (np.zeros(1, bool), FLOW[None], FLOW[None])),
                  np.zeros((0, 48, 48)), np.zeros(0))  # fmt: skip
    assert fits(none, np.zeros(0), night=NIGHT, meters=[]).log.shape == (0, len(SHAPES))
    assert moved_between(none, none, np.zeros(0), night=NIGHT).shape == (0,)


def test_likelihoods_are_those_of_a_general_library() -> None:
    """The difference of two shapes against scipy.stats.multivariate_normal, the night being given:
    p(all hours) / p(mean of the night window), as 48 hours of known covariance."""
    variance = 400 * ERROR**2  # so unsure that neither is ruled out
    own = shift(np.full(48, 0.5))
    own = Shifts(own.known, own.change_l_s, own.before_l_s, variance * np.eye(48)[None], own.steady)
    change, at_night = own.change_l_s[0], np.tile(NIGHT / 4.0, 2)
    sag = (FLOW - FLOW.min()) / np.ptp(FLOW)
    leak = 0.25 * np.outer(1 - 0.08 * sag, 1 - 0.08 * sag) + 0.25 * np.outer(0.08 * sag, 0.08 * sag)
    rate = 0.5 / FLOW[2:4].mean()
    meter = np.outer(rate * FLOW, rate * FLOW)

    def log(curves: np.ndarray) -> float:
        total = curves + np.eye(48) * variance
        whole = stats.multivariate_normal(np.zeros(48), total).logpdf(change)
        night = stats.norm(0, np.sqrt(at_night @ total @ at_night)).logpdf(at_night @ change)
        return float(whole - night)

    # 0.7: what hours are trusted for. A leak is one in three times level: 0.3 of its curves.
    told = fits(own, np.array([0.5]), night=NIGHT, meters=[[FLOW]]).log[0]
    both = np.logaddexp(np.log(0.7) + log(leak), np.log(0.3) + log(0.25 * np.ones((48, 48))))
    assert told[1] - told[0] == pytest.approx(0.7 * (log(meter) - both), rel=1e-6)


def pair(own: float, other: float, seed: int = 1) -> float:
    return float(
        moved_between(
            shift(np.full(48, own), seed=seed),
            shift(np.full(48, other), seed=seed + 100),
            np.array([0.5]),
            night=NIGHT,
        )[0]
    )


def test_a_zone_that_falls_by_day_as_the_other_rises_speaks_for_moved_water() -> None:
    assert pair(0.5, -0.5) > 2
    assert pair(0.5, 0.0) < -4
    assert pair(0.5, 0.5) < -4
