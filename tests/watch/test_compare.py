"""What is news and what is not: nobody is called twice for one thing, nor left without a call."""

from __future__ import annotations

import pandas as pd
import pytest

from district.schema.event_tables import MORNING, TOLD
from district.watch import compare
from tests.watch.rows import Mornings, check, event, events_of, now, places, repair, sensor

LEAK = events_of((event(),))
ID = "E-Z1-2031-03-10"


@pytest.fixture
def mornings() -> Mornings:
    return Mornings()


def test_a_leak_is_new_once_and_then_stands(mornings: Mornings) -> None:
    assert mornings.news(LEAK, "2031-03-12") == {ID: "new"}
    first = mornings.told
    assert mornings.news(LEAK, "2031-03-13") == {ID: "standing"}
    again = mornings.tell(LEAK, "2031-03-14").iloc[0]
    assert again["first_told"] == again["updated"] == pd.Timestamp("2031-03-12")
    assert again["updated_utc"] == pd.Timestamp("2031-03-12 06:00", tz="UTC")
    assert first is not None
    assert again["rank"] == 1


def test_a_revised_start_and_a_litre_more_are_no_news(mornings: Mornings) -> None:
    mornings.tell(LEAK, "2031-03-12")
    for last, start, size in (
        ("2031-03-13", "2031-03-08", 1.05),
        ("2031-03-14", "2031-03-15", 0.95),
        ("2031-03-15", "2031-03-09", 1.15),  # Beyond the limits, but by less than half.
    ):
        revised = events_of((event(start=start, size=size),))
        assert mornings.news(revised, last) == {ID: "standing"}


@pytest.mark.parametrize(
    ("columns", "said"),
    [
        ({"size": 1.6}, "its flow is 1.60"),
        ({"kind": "growing_leak"}, "taken for growing leak, then for new leak"),
        ({"kind": "meter_fault", "kind_share": 0.9}, "taken for meter at fault"),
    ],
)
def test_what_matters_to_a_person_is_news_once(
    mornings: Mornings, columns: dict[str, object], said: str
) -> None:
    mornings.tell(LEAK, "2031-03-12")
    other = events_of((event(**columns),))
    told = mornings.tell(other, "2031-03-13").iloc[0]
    assert told["news"] == "changed"
    assert said in told["reason"]
    assert told["updated"] == pd.Timestamp("2031-03-13")
    assert mornings.news(other, "2031-03-14") == {ID: "standing"}


def test_kinds_that_take_turns_call_nobody_twice(mornings: Mornings) -> None:
    grows = events_of((event(kind="growing_leak"),))
    unsure = events_of((event(kind="unknown", kind_share=0.45),))
    mornings.tell(LEAK, "2031-03-12")
    assert mornings.news(grows, "2031-03-13") == {ID: "changed"}
    for last, found in (("14", LEAK), ("15", grows), ("16", unsure), ("17", LEAK), ("18", grows)):
        assert mornings.news(found, f"2031-03-{last}") == {ID: "standing"}


def test_slow_growth_is_news_again_when_it_adds_up(mornings: Mornings) -> None:
    sizes = [1.0 + 0.04 * n for n in range(20)]
    news = [
        mornings.news(events_of((event(size=s),)), f"2031-03-{11 + n}")[ID]
        for n, s in enumerate(sizes)
    ]
    # Told at 1.00; half more is reached between 1.48 and 1.52.
    assert [n for n, word in enumerate(news) if word == "changed"] == [13]


def test_what_ends_is_closed_once_and_then_gone(mornings: Mornings) -> None:
    mornings.tell(LEAK, "2031-03-12")
    over = events_of((event(state="repaired", end="2031-03-20", act=False),))
    told = mornings.tell(over, "2031-03-21").iloc[0]
    assert (told["news"], told["state"], told["act"]) == ("closed", "repaired", False)
    assert "repaired, last night 2031-03-20" in told["headline"]
    assert mornings.news(over, "2031-03-22") == {}
    assert mornings.news(over, "2031-06-22") == {}


def test_one_low_night_ends_no_leak(mornings: Mornings) -> None:
    mornings.tell(LEAK, "2031-03-12")
    ended = events_of((event(state="ended", end="2031-03-14", act=False),))
    low = mornings.tell(ended, "2031-03-15").iloc[0]
    assert (low["news"], low["act"], low["rank"]) == ("standing", True, 1)
    assert mornings.news(LEAK, "2031-03-16") == {ID: "standing"}
    assert mornings.news(ended, "2031-03-17") == {ID: "closed"}


def test_a_better_account_of_what_is_over_is_news_for_a_while(mornings: Mornings) -> None:
    ended = events_of((event(state="ended", end="2031-03-20", act=False),))
    repaired = events_of((event(state="repaired", end="2031-03-20", act=False),))
    mornings.tell(LEAK, "2031-03-12")
    mornings.tell(ended, "2031-03-22")
    assert mornings.news(repaired, "2031-03-25") == {ID: "changed"}
    assert mornings.news(ended, "2031-06-25") == {}


def test_a_leak_that_begins_where_one_ended_is_another(mornings: Mornings) -> None:
    mornings.tell(LEAK, "2031-03-12")
    both = events_of(
        (
            event(state="repaired", end="2031-03-20", act=False),
            event(start="2031-03-25"),
        )
    )
    assert mornings.news(both, "2031-03-27") == {ID: "closed", "E-Z1-2031-03-25": "new"}


def test_late_readings_bring_an_event_with_its_past_start(mornings: Mornings) -> None:
    mornings.tell(events_of(), "2031-03-31")
    open_since = event(start="2031-02-01")
    short = event("Z2", "2031-03-20", kind="use", state="ended", end="2031-03-22", act=False)
    old = event("Z2", "2030-06-01", kind="use", state="ended", end="2030-06-02", act=False)
    told = mornings.tell(events_of((open_since, short, old)), "2031-03-31")
    assert told["alarm_id"].tolist() == ["E-Z1-2031-02-01", "E-Z2-2031-03-20"]
    assert set(told["news"]) == {"new"}
    assert mornings.news(events_of((open_since, short, old)), "2031-04-01") == {
        "E-Z1-2031-02-01": "standing"
    }


def test_late_readings_withdraw_an_event_and_say_why(mornings: Mornings) -> None:
    mornings.tell(LEAK, "2031-03-12")
    told = mornings.tell(events_of(), "2031-03-13").iloc[0]
    assert (told["news"], told["state"], told["act"]) == ("withdrawn", "withdrawn", False)
    assert told["reason"].startswith(
        "Told with the data to 2031-03-12; with those to 2031-03-13 it"
    )
    assert pd.isna(told["rank"])
    assert mornings.news(events_of(), "2031-03-14") == {}
    # Should it come back, it keeps its id.
    assert mornings.news(LEAK, "2031-03-15") == {ID: "changed"}


def test_what_cannot_be_judged_stands(mornings: Mornings) -> None:
    """The file of a zone came broken: its leak is not gone for that."""
    mornings.tell(LEAK, "2031-03-12")
    for last in ("2031-03-13", "2031-03-14"):
        told = mornings.tell(events_of(), last, places=places(Z1=False)).iloc[0]
        assert (told["news"], told["act"], told["rank"]) == ("standing", True, 1)
        assert told["reason"].count("Not judged") == 1
    assert mornings.news(LEAK, "2031-03-15") == {ID: "standing"}


def test_what_left_the_map_is_withdrawn(mornings: Mornings) -> None:
    mornings.tell(LEAK, "2031-03-12")
    rest = places()
    told = mornings.tell(events_of(), "2031-03-13", places=rest[rest["place_id"] != "Z1"]).iloc[0]
    assert (told["news"], told["reason"]) == ("withdrawn", "Its place is no longer on the map.")


def test_a_first_run_tells_what_stands_open_and_no_history(mornings: Mornings) -> None:
    found = events_of(
        (event(), event("Z2", "2031-03-01", state="ended", end="2031-03-08", act=False))
    )
    assert mornings.news(found, "2031-03-12") == {ID: "new"}
    assert mornings.told is not None
    assert len(mornings.told) == 2


def test_two_events_of_one_id_have_two_ids(mornings: Mornings) -> None:
    mornings.tell(events_of((event(state="ended", end="2031-03-12", act=False),)), "2031-03-12")
    far = event(event_id=ID, start="2031-03-30")
    told = mornings.tell(events_of((far,)), "2031-03-31")
    assert told["alarm_id"].tolist() == [f"{ID}-2"]


def test_a_building_whose_flow_stops_and_starts_is_one_alarm(mornings: Mornings) -> None:
    runs = events_of(checks=(check(),))
    still = events_of(checks=(check(verdict="still", act=False),))
    assert mornings.news(runs, "2031-03-12") == {"B-M1-2031-03-10": "new"}
    moved = events_of(checks=(check(since="2031-03-19"),))
    assert mornings.news(moved, "2031-03-20") == {"B-M1-2031-03-10": "standing"}
    closed = mornings.tell(still, "2031-03-21").iloc[0]
    assert closed["news"] == "closed"
    assert "stood still again" in closed["reason"]
    again = events_of(checks=(check(since="2031-03-25"),))
    assert mornings.news(again, "2031-03-27") == {"B-M1-2031-03-10": "changed"}


def test_a_check_that_becomes_an_event_keeps_its_id(mornings: Mornings) -> None:
    mornings.tell(events_of(checks=(check(),)), "2031-03-12")
    flow = event("M1", "2031-03-11", place_kind="building", kind="building_flow", size=0.02)
    told = mornings.tell(events_of((flow,), checks=(check(),)), "2031-03-20")
    assert told["alarm_id"].tolist() == ["B-M1-2031-03-10"]
    assert told["news"].tolist() == ["standing"]
    assert "As much as a running toilet." in told["reason"].iloc[0]


def test_a_repair_is_judged_once_and_then_history(mornings: Mornings) -> None:
    young, done = events_of(repairs=(repair("too_early"),)), events_of(repairs=(repair(),))
    own_id = "R-Z1-2031-03-20"
    assert mornings.news(young, "2031-03-21") == {own_id: "new"}
    assert mornings.news(young, "2031-03-22") == {own_id: "standing"}
    assert mornings.news(done, "2031-03-27") == {own_id: "closed"}
    assert mornings.news(done, "2031-03-28") == {}
    assert mornings.news(done, "2031-08-28") == {}


def test_a_repair_that_left_a_leak_asks_for_action_until_it_is_history(mornings: Mornings) -> None:
    left = events_of(repairs=(repair("another_leak"),))
    told = mornings.tell(left, "2031-03-27").iloc[0]
    assert told["act"]
    assert "another leak remains" in told["headline"]
    # Where an event of the same place asks for it, once is enough.
    both = events_of((event(start="2031-03-24"),), repairs=(repair("another_leak"),))
    acting = Mornings().tell(both, "2031-03-27")
    assert acting[acting["act"]]["about"].tolist() == ["event"]
    assert mornings.news(left, "2031-08-01") == {}


def test_a_sensor_that_goes_on_and_off_is_told_once(mornings: Mornings) -> None:
    bad, good = events_of(sensors=(sensor(),)), events_of(sensors=(sensor("sound"),))
    assert list(mornings.news(bad, "2031-03-12").values()) == ["new"]
    assert list(mornings.news(bad, "2031-03-13").values()) == ["standing"]
    assert list(mornings.news(good, "2031-03-14").values()) == ["closed"]


def test_ranks_count_from_one_with_leaks_before_buildings_and_sensors(mornings: Mornings) -> None:
    found = events_of(
        (event("Z2", "2031-03-09", size=3.0), event(), event("Z1", "2031-01-01", act=False)),
        checks=(check("M2"),),
        sensors=(sensor(),),
    )
    told = mornings.tell(found, "2031-03-12")
    assert told["rank"].tolist()[:4] == [1, 2, 3, 4]
    assert told["place_id"].tolist()[:4] == ["Z2", "Z1", "M2", "W1"]
    assert pd.isna(told["rank"].iloc[4])


def test_events_that_come_ranked_keep_their_order(mornings: Mornings) -> None:
    found = events_of((event("Z2", size=3.0, rank=2), event(rank=1)))
    assert mornings.tell(found, "2031-03-12")["place_id"].tolist() == ["Z1", "Z2"]


def test_the_tables_are_as_declared_and_nothing_is_written_to(mornings: Mornings) -> None:
    mornings.tell(LEAK, "2031-03-12")
    before, today = mornings.told, now(events_of((event(size=2.0),), checks=(check(),)))
    assert before is not None
    copies = before.copy(), today.copy()
    night, edition = pd.Timestamp("2031-03-13"), pd.Timestamp("2031-03-13", tz="UTC")
    morning, told = compare(before, today, places(), last=night.date(), edition_utc=edition)
    assert tuple(morning.columns) == MORNING.names()
    assert tuple(told.columns) == TOLD.names()
    assert morning["alarm_id"].is_unique
    for frame, copy in zip((before, today), copies, strict=True):
        pd.testing.assert_frame_equal(frame, copy)


def test_nothing_at_all_is_no_alarm(mornings: Mornings) -> None:
    assert mornings.tell(events_of(), "2031-03-12").empty
    assert mornings.tell(events_of(), "2031-03-13").empty
