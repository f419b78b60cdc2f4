from __future__ import annotations

import json
import math

import pytest

from district.intake.tallies import Tally, from_list, together


def test_tallies_come_back_from_text() -> None:
    for tally in (Tally("back", 3), Tally("misread", 2, ("é", "b"), 1.5, 2.5, 7)):
        assert repr(from_list(json.loads(json.dumps(tally.as_list())))) == repr(tally)
    with pytest.raises(ValueError, match="unpack"):
        from_list(["back", 1])


def test_the_first_that_are_named_are_those_of_the_first_part() -> None:
    parts = [Tally("misread", 2, ("a", "b")), Tally("back", 1), Tally("misread", 9, tuple("cdefg"))]
    misread, back = together(parts)
    assert (misread.count, back.count) == (11, 1)
    assert misread.said[:3] == ("a", "b", "c")
    assert math.isnan(misread.low)


def test_ranges_and_totals_are_of_all_parts() -> None:
    (both,) = together(
        [Tally("unit", 1, low=2, high=3, total=4), Tally("unit", 1, high=9, total=6)]
    )
    assert (both.low, both.high, both.total) == (2, 9, 10)
