from __future__ import annotations

import pytest

from district.balance.meter_checks import odds, off_now
from district.balance.naming import Fault


def fault(share: float, first: int, *, meter: int = 1, kind: str = "meter") -> Fault:
    return Fault(kind, meter, first, first, first, share, 0.01, 80.0, 3.0, "a leak")


def test_a_meter_put_right_is_off_no_more() -> None:
    assert off_now([fault(0.1, 40), fault(-0.1, 90)]) == []


def test_a_meter_that_gets_worse_is_off_by_the_sum_since_the_first_day() -> None:
    (off,) = off_now([fault(0.1, 40), fault(0.05, 90)])
    assert off.share == pytest.approx(0.15)
    assert off.deviation == pytest.approx(0.01 * 2**0.5)
    assert off.fault.first == 40


def test_a_meter_put_right_and_off_again_is_off_since_the_second_time() -> None:
    (off,) = off_now([fault(0.1, 40), fault(-0.1, 90), fault(-0.2, 150)])
    assert (off.share, off.fault.first) == (pytest.approx(-0.2), 150)


def test_unmetered_flows_are_no_meters() -> None:
    assert off_now([fault(0.0, 40, kind="pair")]) == []
    assert [o.meter for o in off_now([fault(0.1, 9, meter=4), fault(0.1, 8, meter=2)])] == [2, 4]


def test_odds_in_words() -> None:
    assert odds(2.5) == "About 12 to 1"
    assert odds(9.0) == "More than 1000 to 1"
