from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from district.render import since


def ids(rows):
    return [row["event_id"] for row in rows]


def test_events_to_act_on_come_by_rank_then_largest_first(report):
    events = report.events.events
    assert list(since.acting(events)["event_id"]) == ["E1", "E2"]
    turned = events.assign(rank=[2.0, 1.0, np.nan])
    assert list(since.acting(turned)["event_id"]) == ["E2", "E1"]
    assert list(since.acting(events.assign(rank=np.nan))["event_id"]) == ["E1", "E2"]


def test_other_events_come_open_first_then_the_newest(report):
    one = report.events.events.iloc[[2]]
    starts = ("2031-03-13", "2031-04-02", "2031-03-01")
    others = pd.concat(
        [
            one.assign(event_id=f"X{n}", start=pd.Timestamp(start), state=state)
            for n, (start, state) in enumerate(
                zip(starts, ("explained", "repaired", "open"), strict=True)
            )
        ]
    )
    told = since.since_when(replace(report, events=replace(report.events, events=others)))
    assert ids(told["others"]) == ["X2", "X1", "X0"]
    assert [row["stands"] for row in told["others"]] == [
        "still runs",
        "repaired, ended 2031-03-13",
        "explained, ended 2031-03-13",
    ]


def test_no_more_other_events_than_a_page_can_bear(report):
    one = report.events.events.iloc[[2]]
    many = pd.concat([one.assign(event_id=f"X{n}") for n in range(since.OTHERS + 7)])
    told = since.since_when(replace(report, events=replace(report.events, events=many)))
    assert len(told["others"]) == since.OTHERS
    assert told["left_out"] == 7


def test_days_run_are_whole_and_limits_are_given_where_they_differ(report):
    def lasted(low, value, high):
        events = report.events.events.assign(run_d=value, run_d_low=low, run_d_high=high)
        told = since.since_when(replace(report, events=replace(report.events, events=events)))
        return told["acting"][0]["lasted"]

    assert lasted(24.9, 25.0, 25.2) == "25 days"
    assert lasted(23.0, 24.6, 26.0) == "25 days (23 to 26)"
    assert lasted(np.nan, 1.0, np.nan) == "1 day"
    assert lasted(np.nan, np.nan, np.nan) == ""


def test_causes_likeliest_first_and_those_ruled_out_only_named(report):
    leak = since.since_when(report)["acting"][0]
    assert [(c["kind"], c["share"]) for c in leak["causes"]] == [("leak", "92 %"), ("use", "8 %")]
    assert leak["unlikely"] == "meter at fault, no leak"
    other = since.since_when(report)["acting"][1]
    assert (other["causes"], other["unlikely"]) == ([], "")


def test_the_map_is_told_of_open_events_alone_and_of_a_few(report):
    told = since.events_of_places(report)
    assert set(told) == {("zone", "Z1"), ("cell", "Z1"), ("building", "M&B"), ("cell", "Z2")}
    one = report.events.events.iloc[[0]]
    many = pd.concat([one.assign(event_id=f"X{n}") for n in range(since.IN_POPUP + 3)])
    crowded = replace(report, events=replace(report.events, events=many))
    lines = since.events_of_places(crowded)["cell", "Z1"]
    assert len(lines) == since.IN_POPUP + 1
    assert lines[-1] == "and 3 more, see the report"


@pytest.mark.parametrize(
    ("share", "said"), [(0.923, "new leak, 92 %"), (np.nan, "new leak"), (1.0, "new leak, 100 %")]
)
def test_what_it_is_carries_how_sure_that_is(share, said):
    assert since.what_words({"kind": "leak", "kind_share": share}) == said
