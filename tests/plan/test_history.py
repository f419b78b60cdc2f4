"""How long pipes were watched, and which breaks count: exposure by hand."""

from __future__ import annotations

from datetime import date
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from district.plan.failure_rates import pipe_rates
from district.plan.history import bore_class, cells_of, on_day, pipe_history
from district.settings import Settings
from tests.plan.made_history import breaks_of, history_of, pipes_of, settings_of


def test_a_pipe_counts_from_when_it_was_laid_or_the_record_began() -> None:
    pipes = pipes_of(
        {"pipe_id": "OLD", "length_m": 500.0},
        {"pipe_id": "NEW", "installed_year": 2010.0, "length_m": 200.0},
        {"pipe_id": "GONE", "status": "abandoned", "removed_year": 2004},
        {"pipe_id": "UNBORN", "installed_year": 2030.0},
    )
    rows = history_of(pipes, breaks_of()).table.set_index("pipe_id")
    # By hand: 20 years of 0.5 km; 9.5 (from the middle of 2010) of 0.2 km; 4.5 of 1 km; none.
    assert rows.loc["OLD", "exposure_km_year"] == pytest.approx(10.0, abs=0.01)
    assert rows.loc["NEW", "exposure_km_year"] == pytest.approx(1.9, abs=0.01)
    assert rows.loc["GONE", "exposure_km_year"] == pytest.approx(4.5, abs=0.01)
    assert rows.loc["UNBORN", "exposure_km_year"] == 0.0
    assert list(rows["in_use"]) == [False, True, True, True]


def test_a_pipe_in_use_of_a_year_to_come_is_told() -> None:
    pipes = pipes_of(
        {"pipe_id": "A", "installed_year": 2020.0},
        {"pipe_id": "B", "installed_year": 2091.0},
        {"pipe_id": "C", "installed_year": 2091.0, "status": "planned"},
    )
    found = history_of(pipes, breaks_of())
    assert [f.sentence() for f in found.findings] == [
        "pipes, pipe B, column installed_year: got 2091, though in use, for a plan of 2020, "
        "expected a year up to 2020, or status planned. Correct one of the two; until then it "
        "counts as new, and was never watched."
    ]
    table = pipe_rates(found, settings=settings_of(), year=2020).table
    assert list(table["age_year"]) == [0.0, 0.0]


def test_planned_pipes_and_those_gone_at_an_unknown_time_say_nothing() -> None:
    pipes = pipes_of(
        {"pipe_id": "A"},
        {"pipe_id": "B", "status": "planned"},
        {"pipe_id": "C", "status": "abandoned"},
    )
    found = history_of(pipes, breaks_of(("2010-02-01", "C"), ("2010-02-01", "A")))
    assert list(found.table["pipe_id"]) == ["A"]
    assert found.left_out == {"on no pipe of the layer whose time in the ground is known": 1}


def test_each_break_counts_or_is_told_why_not() -> None:
    pipes = pipes_of(
        {"pipe_id": "A", "installed_year": 2005.0},
        {"pipe_id": "B", "status": "abandoned", "removed_year": 2008},
    )
    breaks = breaks_of(
        ("2005-01-02", "A"),  # the year it was laid
        ("2012-07-01", "A"),
        ("2012-07-01", "A", "service"),
        ("2003-07-01", "A"),  # the id was another pipe's
        ("2011-07-01", "B"),
        ("1998-07-01", "B"),
        ("2012-07-01", "nowhere"),
    )
    found = history_of(pipes, breaks)
    assert list(found.table["breaks_count"]) == [2, 0]
    assert list(found.table["service_breaks_count"]) == [1, 0]
    assert found.left_out == {
        "outside the record": 1,
        "on no pipe of the layer whose time in the ground is known": 1,
        "before its pipe was laid": 1,
        "after its pipe was taken out": 1,
    }
    assert found.break_age == pytest.approx([0.0, 7.0], abs=0.01)
    assert [f.sentence() for f in found.findings] == [
        "breaks, row of 1998-07-01, column date: got 1 break outside the record (1998-07-01 at B), "
        "expected a date from 2000-01-01 to 2019-12-31. Correct the date, or record_dates under "
        "[renew]; until then it counts for no pipe."
    ]


def test_a_break_on_a_left_out_copy_counts_for_the_pipe_it_copies() -> None:
    found = pipe_history(
        pipes_of({"pipe_id": "A"}),
        breaks_of(("2010-03-01", "A copy")),
        settings=Settings(),
        year=2020,
        copy_of={"A copy": "A"},
    )
    assert list(found.table["breaks_count"]) == [1]


def test_without_dates_in_the_settings_the_breaks_tell_the_record() -> None:
    # Even over 20 years, 21 breaks: the span is 20, so it was watched for 20 x 22 / 20 years.
    breaks = breaks_of(*[(f"{year}-01-01", "A") for year in range(1990, 2011)])
    found = pipe_history(pipes_of({"pipe_id": "A"}), breaks, settings=Settings(), year=2020)
    assert found.last - found.first == pytest.approx(22.0, abs=0.02)
    assert found.known


def test_a_record_never_runs_beyond_the_year_of_the_plan() -> None:
    breaks = breaks_of(("2019-01-01", "A"), ("2020-12-30", "A"), ("2033-01-01", "A"))
    found = pipe_history(pipes_of({"pipe_id": "A"}), breaks, settings=Settings(), year=2020)
    assert found.last <= 2021.0
    assert found.left_out == {"outside the record": 1}


def test_a_record_cut_short_by_the_plan_begins_no_earlier_for_that() -> None:
    # Five over twelve years: two years before the first, and two after the last but for the plan.
    breaks = breaks_of(*[(f"{year}-01-01", "A") for year in range(2008, 2021, 3)])
    found = pipe_history(pipes_of({"pipe_id": "A"}), breaks, settings=Settings(), year=2020)
    later = pipe_history(pipes_of({"pipe_id": "A"}), breaks, settings=Settings(), year=2030)
    assert (found.first, found.last) == (later.first, 2021.0)
    assert later.last - later.first == pytest.approx(12 * 6 / 4, abs=0.01)


def test_a_date_that_stands_apart_is_told_and_does_not_stretch_the_record() -> None:
    rows = [(f"{2005 + n // 12}-{1 + n % 12:02d}-11", "A") for n in range(240)]
    pipes = pipes_of({"pipe_id": "A"}, {"pipe_id": "B", "installed_year": 1880.0})
    found = pipe_history(
        pipes, breaks_of(*rows, ("1900-01-01", "B")), settings=Settings(), year=2025
    )
    assert 2004.5 < found.first < 2005.1
    assert found.left_out == {"outside the record": 1}
    assert "got 1 break outside the record (1900-01-01 at B)" in found.findings[0].sentence()


def test_a_record_ends_before_the_year_of_the_plan_unless_a_break_is_of_that_year() -> None:
    # Half of what two breaks tell, 10 years and more, may lie after the last: that is not to come.
    pipes, early = pipes_of({"pipe_id": "A"}), ("2001-01-01", "A")
    before = pipe_history(
        pipes, breaks_of(early, ("2019-01-01", "A")), settings=Settings(), year=2020
    )
    assert before.last == 2020.0
    within = pipe_history(
        pipes, breaks_of(early, ("2020-03-01", "A")), settings=Settings(), year=2020
    )
    assert within.last == 2021.0


def test_without_breaks_and_dates_nothing_was_watched() -> None:
    found = pipe_history(pipes_of({"pipe_id": "A"}), breaks_of(), settings=Settings(), year=2020)
    assert not found.known
    assert found.table["exposure_km_year"].sum() == 0.0


def test_an_unknown_year_is_that_of_the_middle_pipe_of_its_material() -> None:
    known = [{"pipe_id": f"K{n}", "installed_year": 1940.0 + 10 * n} for n in range(5)]
    pipes = pipes_of(
        *known,
        {"pipe_id": "U", "installed_year": np.nan},
        {"pipe_id": "V", "material": "steel", "installed_year": np.nan},
    )
    found = history_of(pipes, breaks_of())
    assert found.laid[found.table["pipe_id"] == "U"] == pytest.approx(1960.5)
    # 50 years old in the middle of the record, 2010.
    assert found.laid[found.table["pipe_id"] == "V"] == pytest.approx(1960.0, abs=0.01)
    assert len(found.assumptions) == 2
    assert np.isnan(found.table.set_index("pipe_id").loc["U", "installed_year"])


def test_the_order_of_rows_changes_nothing() -> None:
    pipes = pipes_of(*({"pipe_id": p, "installed_year": 1950.0 + n} for n, p in enumerate("DBAC")))
    breaks = breaks_of(("2010-02-01", "B"), ("2005-02-01", "A"), ("2010-02-01", "A"))
    one = history_of(pipes, breaks)
    other = history_of(pipes[::-1], breaks[::-1])
    pd.testing.assert_frame_equal(one.table, other.table)
    assert list(one.break_pipe) == list(other.break_pipe)


def test_classes_of_bore_have_their_upper_edge_in_them() -> None:
    said = bore_class(pd.Series([75.0, 75.1, 200.0, 301.0, np.nan]))
    assert list(said) == [
        "0 to 75 mm",
        "76 to 125 mm",
        "126 to 200 mm",
        "301 mm and more",
        "unknown",
    ]


def test_a_pipe_lies_in_the_zone_that_holds_most_of_it() -> None:
    table = pd.DataFrame(
        {
            "layer_pipe_id": ["P", "P", "P", "Q"],
            "cell_id": ["Z1", "Z2", "Z2", "Z1"],
            "length_m": [90.0, 50.0, 60.0, 10.0],
            "geometry": None,
        }
    )
    assert dict(cells_of(SimpleNamespace(pipes=table))) == {"P": "Z2", "Q": "Z1"}


def test_the_day_of_a_moment() -> None:
    # Noon of the 34th day, as breaks stand; midnight at the end of a year and of a leap year.
    noon = 2019 + 33.5 / 365
    assert [on_day(noon).isoformat(), on_day(noon, last=True).isoformat()] == ["2019-02-03"] * 2
    for year in (2019, 2020):
        end = history_of(
            pipes_of({"pipe_id": "A"}),
            breaks_of(),
            record_dates=(date(2001, 1, 1), date(year, 12, 31)),
        )
        assert on_day(end.first) == date(2001, 1, 1)
        assert on_day(end.last, last=True) == date(year, 12, 31)
