from __future__ import annotations

from district.watch.matching import matched
from tests.watch.rows import check, event, events_of, now


def test_the_nearest_starts_are_one_alarm_each() -> None:
    before = now(events_of((event(start="2031-03-01"), event(start="2031-03-10"))))
    today = now(events_of((event(start="2031-03-09"), event(start="2031-03-02"))))
    assert matched(before, today) == {1: 0, 0: 1}


def test_another_place_or_family_is_never_the_same() -> None:
    before = now(events_of((event("Z1"),), checks=(check("M1"),)))
    today = now(events_of((event("Z2"),), checks=(check("M2"),)))
    assert matched(before, today) == {}


def test_a_far_start_is_the_same_only_where_both_are_open_and_of_like_size() -> None:
    before = now(events_of((event(start="2031-03-20"),)))
    far = event(start="2031-03-01")
    assert matched(before, now(events_of((far,)))) == {0: 0}
    assert matched(before, now(events_of((event(start="2031-03-01", size=3.0),)))) == {}
    over = event(start="2031-03-01", state="ended", end="2031-03-05")
    assert matched(before, now(events_of((over,)))) == {}
    assert matched(before, now(events_of((event(start="2031-01-01"),)))) == {}


def test_nothing_matches_nothing() -> None:
    some, none = now(events_of((event(),))), now(events_of())
    assert matched(some, none) == matched(none, some) == matched(none, none) == {}
