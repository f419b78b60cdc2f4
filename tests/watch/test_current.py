from __future__ import annotations

from district.schema.event_tables import TOLD
from district.watch import alarms_now
from tests.watch.rows import check, event, events_of, now, places, repair, sensor


def test_each_thing_is_one_alarm() -> None:
    """An event and a check of one meter; the check speaks in the event's reason."""
    flow = event("M1", place_kind="building", kind="building_flow", act=False)
    found = now(events_of((flow,), checks=(check(),)))
    assert found["about"].tolist() == ["event"]
    assert found["reason"].iloc[0] == (
        "Night flow rose. As much as a running toilet. It rests on intervals."
    )
    assert found["act"].iloc[0]


def test_a_check_stands_alone_where_the_event_is_over() -> None:
    flow = event("M1", place_kind="building", state="ended", end="2031-03-12", act=False)
    found = now(events_of((flow,), checks=(check(since="2031-03-20"),)))
    assert sorted(found["about"]) == ["building", "event"]


def test_meters_that_are_as_they_should_be_give_no_alarm() -> None:
    verdicts = ("still", "below_resolution", "too_few")
    checks = tuple(check(f"M{n}", verdict=v, act=False) for n, v in enumerate(verdicts))
    assert now(events_of(checks=checks, sensors=(sensor("sound"), sensor("silent")))).empty


def test_what_passes_an_empty_building_is_told_if_worth_a_visit() -> None:
    """Cleaners and cisterns draw while nobody is there: that calls nobody."""
    checks = (
        check(verdict="empty_flow", since=None),
        check("M2", verdict="empty_flow", act=False),
    )
    found = now(events_of(checks=checks))
    assert found["alarm_id"].tolist() == ["B-M1-2031-01-01"]
    assert found["match"].tolist() == ["flow|building|M1"]
    assert found["size_l_s"].tolist() == [0.02]
    assert "while nobody is there in building Hall (meter M1): 0.020 L/s" in found["headline"].iloc[
        0
    ].replace("\xa0", " ")


def test_a_silent_meter_is_not_called_dead_too() -> None:
    dead = events_of(checks=(check(verdict="dead"),))
    silent = now(dead).assign(about="device", kind="silent")
    found = now(dead, silent=silent)
    assert found["kind"].tolist() == ["silent"]
    assert now(dead)["match"].tolist() == ["device|M1"]


def test_old_repairs_are_history() -> None:
    one = events_of(repairs=(repair("partly"),))
    assert len(now(one, last="2031-04-30")) == 1
    assert now(one, last="2031-06-30").empty


def test_the_columns_are_as_declared() -> None:
    found = alarms_now(
        events_of((event(),), (check(),), (repair(),), (sensor(),)),
        now(events_of()),
        places(),
        last=now(events_of((event(),)))["start"].iloc[0].date(),
        currency="EUR",
    )
    assert tuple(found.columns) == TOLD.names()
    assert sorted(found["about"]) == ["building", "event", "repair", "sensor"]
    assert found["act"].dtype == bool


def test_limits_of_a_start_are_those_that_people_are_told() -> None:
    flow = event("Z1")
    (row,) = now(events_of((flow,))).to_dict("records")
    assert (row["start_low"], row["start_high"]) == (flow["since_first"], flow["since_last"])
    assert row["start_low"] < flow["start_low"]
