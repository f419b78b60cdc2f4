from __future__ import annotations

import pytest

from district.detect.magnitude import RATES, a_day, as_much_as


def words_of(litres_a_day: float) -> str:
    return as_much_as(litres_a_day / 86400)


@pytest.mark.parametrize("rate", RATES, ids=lambda r: r.words)
def test_each_published_rate_is_about_as_much_as_itself(rate: object) -> None:
    assert rate.words in words_of(rate.flow_l_d)  # type: ignore[attr-defined]
    assert words_of(rate.flow_l_d).startswith("about as much as")  # type: ignore[attr-defined]


def test_the_rates_are_in_order_and_each_has_a_source() -> None:
    flows = [r.flow_l_d for r in RATES]
    assert flows == sorted(flows)
    assert all(r.source for r in RATES)


def test_what_lies_between_below_or_above_is_said_so() -> None:
    assert words_of(1.0) == "less than a tap that drips ten times a minute"
    assert words_of(80) == (
        "more than a tap that drips once a second, less than a cistern that loses half a cup "
        "a minute"
    )
    assert words_of(100_000) == "more than a broken service pipe"
    assert words_of(770).endswith("a toilet that runs on or a hole of 0.8 mm in an irrigation pipe")


def test_litres_a_day_have_no_more_digits_than_the_limits_allow() -> None:
    assert a_day(0.001, 0.0008, 0.0012) == "86 (69 to 104) L a day"
    assert a_day(0.00002153) == "1.9 L a day"
