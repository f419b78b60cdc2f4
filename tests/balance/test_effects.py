"""Inputs followed through the balance's own sums, products and quotients."""

from __future__ import annotations

import numpy as np
import pytest

from district.balance import complete_balance
from district.balance.effects import (
    REST,
    Traced,
    exact,
    fitted,
    limits_of,
    pooled,
    taken_up,
    through,
    through_all,
    traced,
    uncut,
    variance_shares,
)
from district.balance.indicators import index_limits
from district.estimates import Estimate, combine_limits, estimate, multiply_limits


def known(value: float, below: float, above: float) -> Estimate:
    return estimate([value], [value - below], [value + above])


def test_the_effects_of_a_product_are_its_limits_by_variance() -> None:
    leak, hours = known(0.8, 0.1, 0.2), known(22.0, 3.0, 1.0)
    made = through(multiply_limits, traced("leak", leak), traced("hours", hours))
    np.testing.assert_allclose(limits_of(made), multiply_limits(leak, hours))
    assert made.effects["leak"][0] == pytest.approx(0.1 * 22.0)
    assert made.effects["hours"][1] == pytest.approx(1.0 * 0.8)


def test_what_is_taken_away_lowers_by_its_upper_limit() -> None:
    made = through(
        lambda a, b: combine_limits(a, b, signs=(1, -1)),
        exact([3.0]),
        traced("use", known(1.0, 0.1, 0.4)),
    )
    assert made.effects["use"] == (pytest.approx(0.4), pytest.approx(0.1))


def test_a_negative_factor_turns_the_sides() -> None:
    made = through(multiply_limits, exact([-2.0]), traced("hours", known(22.0, 3.0, 1.0)))
    assert made.effects["hours"] == (pytest.approx(2.0), pytest.approx(6.0))


def test_several_inputs_of_one_part_and_one_input_of_several() -> None:
    losses = Traced(
        np.array([10.0]), {"meter": (np.array([3.0]),) * 2, "P": (np.array([4.0]),) * 2}
    )
    least = traced("P", known(2.0, 0.2, 0.2))
    made = through(index_limits, losses, least)
    np.testing.assert_allclose(limits_of(made), index_limits(limits_of(losses), limits_of(least)))
    assert set(made.effects) == {"meter", "P"}
    assert made.effects["P"][0] == pytest.approx(np.hypot(4.0 / 2.0, 10.0 / 4.0 * 0.2))


def test_shares_of_the_published_variances() -> None:
    """Thornton, Sturm & Kunkel 2008, table 7.5, p. 93 (seen): the variance of non-revenue water,
    59,148.0, is that of five sources and of billed consumption."""
    sources = {"1": 9553.7, "2": 18732.1, "3": 7330.2, "4": 3294.3, "billed": 20237.7}
    volumes = {"1": 7512.80, "2": 10519.84, "3": 6580.71, "4": 4411.61, "billed": 24778.64}
    half = {name: 1.96 * np.sqrt(variance) for name, variance in sources.items()}
    supplied = Traced(np.array([29032.56]), {k: (np.array([half[k]]),) * 2 for k in "1234"})
    billed = traced("billed", known(volumes["billed"], half["billed"], half["billed"]))
    keys = ("system_input", "billed_metered", "billed_unmetered", "unbilled_metered",
            "unbilled_unmetered", "unauthorised", "meter_error")  # fmt: skip
    lost = through_all(
        lambda *parts: complete_balance(dict(zip(keys, parts, strict=True))),
        supplied,
        billed,
        *[exact([0.0])] * 5,
    )["non_revenue"]
    shares = variance_shares(lost.effects)
    for name, printed in sources.items():
        assert shares[name][0] == pytest.approx(printed / 59148.0, abs=1e-5)
    assert sum(s[0] for s in shares.values()) == pytest.approx(1.0)


def test_effects_near_the_limits_shown_are_scaled_and_what_is_missing_is_told() -> None:
    figure = Traced(np.array([5.0, 5.0]), {"a": (np.array([1.0, 1.0]),) * 2})
    shown = Estimate(np.array([5.0, 5.0]), np.array([3.98, 3.0]), np.array([6.0, 6.0]))
    made = fitted(figure, shown)
    np.testing.assert_allclose(limits_of(made), shown)
    np.testing.assert_allclose(made.effects["a"][0], [1.02, 1.0])
    np.testing.assert_allclose(made.effects[REST][0], [0.0, np.sqrt(3.0)])
    assert REST not in fitted(figure, Estimate(*(x[:1] for x in shown))).effects


def test_limits_cut_off_at_nothing_are_told_whole() -> None:
    figure = Traced(np.array([1.0, 1.0, 0.0]), {"a": (np.array([3.0, 0.5, 2.0]),) * 2})
    shown = Estimate(
        np.array([1.0, 1.0, 0.0]), np.array([0.0, 0.5, 0.0]), np.array([4.0, 1.5, 1.0])
    )
    whole = uncut(figure, shown)
    np.testing.assert_allclose(whole.low, [-2.0, 0.5, 0.0])
    np.testing.assert_allclose(limits_of(fitted(figure, whole)), whole)


def test_scatter_takes_up_small_differences_alone() -> None:
    half = {"a": (np.array([3.0, 3.0]),) * 2, "scatter": (np.array([4.0, 4.0]),) * 2}
    figure = Traced(np.array([0.0, 0.0]), half)
    shown = Estimate(np.zeros(2), np.array([-5.1, -9.0]), np.array([5.1, 9.0]))
    made = taken_up(figure, shown, key="scatter")
    assert made.effects["scatter"][0][0] == pytest.approx(np.sqrt(5.1**2 - 9.0))
    assert made.effects["scatter"][0][1] == 4.0
    assert made.effects["a"][0][0] == 3.0


def test_limits_that_add_are_shared_as_in_the_places() -> None:
    zones = Traced(
        np.array([1.0, 2.0]),
        {"a:0": (np.array([3.0, 0.0]),) * 2, "b": (np.array([4.0, 5.0]),) * 2},
    )
    whole = pooled(zones, known(3.0, 10.0, 10.0), same=lambda key: key.split(":")[0])
    shares = variance_shares(whole.effects)
    assert shares["a"][0] == pytest.approx((9.0 / 5.0) / 10.0)
    np.testing.assert_allclose(limits_of(whole), known(3.0, 10.0, 10.0))


def test_no_limits_at_all_have_no_shares() -> None:
    figure = Traced(np.array([0.0]), {"a": (np.zeros(1), np.zeros(1))})
    assert variance_shares(figure.effects)["a"] == 0.0
    nothing = known(0.0, 0.0, 0.0)
    np.testing.assert_allclose(limits_of(fitted(figure, nothing)), nothing)
    np.testing.assert_allclose(limits_of(pooled(figure, nothing, same=lambda key: key)), nothing)
