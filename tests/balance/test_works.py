"""Works by zone and night."""

from __future__ import annotations

from datetime import time
from typing import Any

import pandas as pd
import pytest

from district.balance.works import works_by_night
from district.settings import District, Night, Settings

CELLS = pd.Index(["North", "South"], dtype=object)
NIGHTS = pd.date_range("2026-03-27", "2026-03-31", freq="D").as_unit("us")


def told(network: Any, settings: Settings | None = None, **work: Any) -> tuple[Any, Any]:
    row = {"kind": "flushing", "end": None} | work
    works = pd.DataFrame({name: [value] for name, value in row.items()})
    works["end"] = pd.to_datetime(works["end"], utc=pd.Timestamp(work["start"]).tzinfo is not None)
    table, lost = works_by_night(
        network, works, settings=settings or Settings(), cells=CELLS, nights=NIGHTS
    )
    marked = [
        (cell, night.day, table.loc[night, cell])
        for cell in CELLS
        for night in NIGHTS
        if table.loc[night, cell]
    ]
    return marked, lost


@pytest.mark.parametrize(
    ("place", "cells"),
    [
        ("North", ["North"]),
        ("P1/2", ["North"]),
        ("P1", ["North"]),
        ("P2", ["South"]),
        ("M2", ["North", "South"]),
        ("M1", ["North"]),
        ("C2", ["South"]),
        ("V1", ["South"]),
        ("S", []),
    ],
)
def test_a_place_is_a_zone_pipe_meter_or_valve(make_network: Any, place: str, cells: Any) -> None:
    marked, lost = told(make_network(), start=pd.Timestamp("2026-03-28 03:00"), place_id=place)
    assert marked == [(c, 28, "flushing") for c in cells]
    assert lost == ()


def test_an_unknown_place_is_said(make_network: Any) -> None:
    marked, lost = told(make_network(), start=pd.Timestamp("2026-03-28 03:00"), place_id="P99")
    assert marked == []
    assert lost == ("Works at P99 are not used: no zone, pipe, meter or valve has this id.",)


def test_works_by_day_leave_the_nights_alone(make_network: Any) -> None:
    marked, _ = told(
        make_network(),
        start=pd.Timestamp("2026-03-28 09:00"),
        end=pd.Timestamp("2026-03-28 16:00"),
        place_id="North",
    )
    assert marked == []


def test_works_without_an_end_last_to_midnight(make_network: Any) -> None:
    marked, _ = told(make_network(), start=pd.Timestamp("2026-03-28"), place_id="South")
    assert marked == [("South", 28, "flushing")]


def test_works_over_several_nights_mark_each(make_network: Any) -> None:
    marked, _ = told(
        make_network(),
        start=pd.Timestamp("2026-03-27 22:00"),
        end=pd.Timestamp("2026-03-30 00:30"),
        place_id="North",
    )
    assert [m[1] for m in marked] == [28, 29, 30]


def test_utc_is_brought_to_the_districts_clock(make_network: Any) -> None:
    # 05:30 UTC is 07:30 in Helsinki after the clock change of 29 March 2026, 05:30 in Lisbon's
    # winter: only the latter touches the night hours.
    instant = pd.Timestamp("2026-03-28 05:30", tz="UTC")
    end = pd.Timestamp("2026-03-28 07:00", tz="UTC")
    for zone, expected in (("Europe/Helsinki", []), ("Europe/Lisbon", [28])):
        marked, _ = told(
            make_network(),
            Settings(district=District(timezone=zone)),
            start=instant,
            end=end,
            place_id="North",
        )
        assert [m[1] for m in marked] == expected


def test_two_works_on_one_night_are_both_named(make_network: Any) -> None:
    works = pd.DataFrame(
        {
            "start": pd.to_datetime(["2026-03-28 03:00", "2026-03-28 01:00", "2026-03-28 02:00"]),
            "end": pd.to_datetime([None, None, None]),
            "kind": ["repair", "flushing", "repair"],
            "place_id": ["North", "North", "North"],
        }
    )
    table, _ = works_by_night(
        make_network(), works, settings=Settings(), cells=CELLS, nights=NIGHTS
    )
    assert table.loc[NIGHTS[1], "North"] == "flushing, repair"


def test_premises_that_stand_empty_are_no_work(make_network: Any) -> None:
    work = {"start": pd.Timestamp("2026-03-28 03:00"), "place_id": "C2", "kind": "empty"}
    assert told(make_network(), **work) == ([], ())


def test_works_within_the_window_count_though_the_search_is_shorter(make_network: Any) -> None:
    settings = Settings(night=Night(search_start=time(3), search_end=time(4)))
    during = {"start": pd.Timestamp("2026-03-28 02:10"), "end": pd.Timestamp("2026-03-28 02:40")}
    marked, _ = told(make_network(), settings, place_id="North", **during)
    assert marked == [("North", 28, "flushing")]


def test_works_in_any_hour_that_is_searched_count(make_network: Any) -> None:
    settings = Settings(night=Night(window="rolling", search_start=time(1), search_end=time(5)))
    for hour, nights in ((0, []), (1, [28]), (4, [28]), (5, [])):
        start = pd.Timestamp(2026, 3, 28, hour, 5)
        end = start + pd.Timedelta(minutes=20)
        marked, _ = told(make_network(), settings, place_id="P2", start=start, end=end)
        assert marked == [("South", n, "flushing") for n in nights]
