from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from district.detect.unbroken import each, last_rows, unbroken
from tests.detect.still_series import still_of

N = np.nan


def day(text: str) -> list[float]:
    """A day of 24 hours: '.' still, 'x' flow, '?' not read; the last sign goes on."""
    signs = (text + text[-1] * 24)[:24]
    return [{".": 0.0, "x": 1.0, "?": N}[s] for s in signs]


def marked(*days: str) -> pd.DataFrame:
    return unbroken(still_of({"A": np.concatenate([day(d) for d in days])}))


def test_a_spell_over_midnight_counts_whole() -> None:
    rows = marked("." * 6 + "x" * 12 + ".", "." * 7 + "x", "x")
    assert rows["spell_h"].to_list() == [6, 13, 0]


def test_whole_still_days_add_up_and_a_missing_hour_ends_the_certainty() -> None:
    assert marked("x" * 20 + ".", ".", ".", "..x")["spell_h"].to_list() == [4, 28, 52, 54]
    assert marked("x" * 20 + ".", "...?.", "..x")["spell_h"].to_list() == [4, 20, 22]


def test_a_run_goes_on_over_missing_hours_but_not_over_a_still_one() -> None:
    rows = marked("." * 10 + "x", "xx?x", "x" * 5 + ".x")
    assert rows["run_h"].to_list() == [14, 37, 18]
    assert rows["run_since"].dt.day.to_list() == [3, 3, 5]
    assert rows["run_known"].to_list() == [True, True, True]


def test_a_run_after_a_day_that_ended_still_began_on_the_next() -> None:
    rows = marked("x.", "x", "x")
    assert rows["run_since"].dt.day.to_list()[1:] == [4, 4]


def test_a_run_from_the_first_day_may_have_begun_before() -> None:
    rows = marked("x", "x")
    assert rows["run_known"].to_list() == [False, False]
    assert rows["run_h"].to_list() == [24, 48]


def test_three_days_without_readings_are_a_pause_and_four_an_end() -> None:
    table = still_of({"A": np.concatenate([day(d) for d in (".x", *"xxxxx")])})
    three, four = (table.drop(index=list(range(1, n + 1))) for n in (3, 4))
    assert unbroken(three)["run_since"].dt.day.to_list() == [3, 3, 3]
    assert unbroken(four)["run_since"].dt.day.to_list() == [3, 8]


def test_idle_hours_are_counted_likewise() -> None:
    rows = marked("x" * 20 + ".", ".?.", ".")
    assert rows["idle_h"].to_list() == [4, 27, 51]
    assert rows["idle_since"].dt.day.to_list() == [3, 3, 3]
    assert marked(".", ".")["idle_known"].to_list() == [False, False]


def test_devices_do_not_run_into_each_other_and_nothing_is_nothing() -> None:
    rows = unbroken(still_of({"A": day("x"), "B": day("x")}))
    assert rows["run_h"].to_list() == [24, 24]
    assert unbroken(rows.iloc[:0]).empty
    assert last_rows(rows).index.to_list() == ["A", "B"]


@pytest.mark.parametrize("seed", range(4))
def test_runs_are_those_counted_hour_by_hour(seed: int) -> None:
    rng = np.random.default_rng(seed)
    litres = np.repeat(rng.integers(0, 2, 60), rng.integers(1, 40, 60))[: 24 * 12].astype(float)
    rows = unbroken(still_of({"A": litres}))
    run = spell = longest = 0
    for at, flow in enumerate(litres):
        run, spell = (run + 1, 0) if flow else (0, spell + 1)
        longest = max(longest, spell)
        if at % 24 == 23:
            row = rows.iloc[at // 24]
            assert (row["run_h"], row["idle_h"]) == (run, spell)
    assert rows["spell_h"].max() == longest


def test_what_is_known_by_device_is_known_in_its_kind_without_rows() -> None:
    dates = pd.Series([pd.Timestamp("2025-03-03")], index=["A"])
    rows = pd.DataFrame({"device_id": ["A", "B", "A"]})
    assert each(rows, dates).isna().to_list() == [False, True, False]
    assert each(rows.iloc[:0], dates).dtype.kind == "M"
