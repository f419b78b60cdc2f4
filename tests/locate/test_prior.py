"""Expected leaks of pipes with the district's breaks taken in."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pandas as pd
import pytest

from district.locate.prior import leak_prior

Make = Callable[..., Any]


def test_breaks_of_a_pipe_that_devices_cut_are_shared_over_its_parts(
    network_of: Make, breaks_of: Make
) -> None:
    table = pd.DataFrame(
        {
            "pipe_id": ["P12/1", "P12/2", "P13"],
            "layer_pipe_id": ["P12", "P12", "P13"],
            "length_m": [50.0, 150.0, 200.0],
        }
    )
    history = breaks_of([("2010-05-01", "P12"), ("2015-05-01", "P12"), ("2020-05-01", "P12")])
    rows = leak_prior(network_of(table), history, year=2024).table
    one, two, other = rows["leaks_per_year"]
    assert two / one == pytest.approx(3)
    assert one + two > other
    assert list(rows["breaks_count"]) == [3, 3, 0]


def test_splitting_a_pipe_changes_nothing_of_its_whole(network_of: Make, breaks_of: Make) -> None:
    history = breaks_of([("2010-05-01", "A"), ("2020-05-01", "B")])
    whole = pd.DataFrame({"pipe_id": ["A", "B"], "length_m": [200.0, 100.0]})
    parts = pd.DataFrame(
        {
            "pipe_id": ["A/1", "A/2", "B"],
            "layer_pipe_id": ["A", "A", "B"],
            "length_m": [80.0, 120.0, 100.0],
        }
    )
    a = leak_prior(network_of(whole), history, year=2024).table["leaks_per_year"]
    b = leak_prior(network_of(parts), history, year=2024).table["leaks_per_year"]
    assert b.iloc[:2].sum() == pytest.approx(a.iloc[0])
    assert b.iloc[2] == pytest.approx(a.iloc[1])


def test_a_break_before_the_pipe_was_laid_counts_for_none(
    network_of: Make, breaks_of: Make
) -> None:
    table = pd.DataFrame({"pipe_id": ["A", "B"], "installed_year": [2012.0, 2012.0]})
    history = breaks_of([("2005-01-01", "A"), ("2015-01-01", "B"), ("2020-01-01", "strange")])
    prior = leak_prior(network_of(table), history, year=2024)
    assert list(prior.table["breaks_count"]) == [0, 1]
    assert (prior.breaks_used, prior.breaks_lost) == (1, 2)


def test_breaks_without_a_date_or_a_pipe_are_counted_as_lost(
    network_of: Make, breaks_of: Make
) -> None:
    network = network_of(pd.DataFrame({"pipe_id": ["A", "B"]}))
    history = breaks_of([("2015-01-01", "A"), ("2016-01-01", "B"), ("2020-01-01", "B")])
    history.loc[1, "date"] = pd.NaT
    history.loc[2, "pipe_id"] = None
    prior = leak_prior(network, history, year=2024)
    assert (prior.breaks_used, prior.breaks_lost) == (1, 2)


def test_a_break_on_a_copy_counts_for_the_pipe_it_copies(network_of: Make, breaks_of: Make) -> None:
    network = network_of(pd.DataFrame({"pipe_id": ["A", "B"]}))
    copied = pd.DataFrame({"what": ["duplicate"], "pipe_id": ["B copy"], "other_id": ["B"]})
    history = breaks_of([("2015-01-01", "B copy"), ("2020-01-01", "B")])
    prior = leak_prior(replace(network, repairs=copied), history, year=2024)
    assert list(prior.table["breaks_count"]) == [0, 2]
    assert prior.breaks_lost == 0
    assert list(history["pipe_id"]) == ["B copy", "B"]


def test_service_breaks_raise_the_services_and_not_the_mains(
    network_of: Make, breaks_of: Make
) -> None:
    table = pd.DataFrame({"pipe_id": ["A", "B", "C"], "connections_count": [5, 5, 0]})
    dates = ["2010-01-01", "2012-01-01", "2014-01-01"]
    history = breaks_of([(d, "A") for d in dates], kind="service")
    leaks = leak_prior(network_of(table), history, year=2024).table["leaks_per_year"]
    assert leaks["A"] > 1.5 * leaks["B"] > 1.5 * leaks["C"]


def test_a_record_of_mains_alone_says_nothing_of_connections(
    network_of: Make, breaks_of: Make
) -> None:
    table = pd.DataFrame(
        {"pipe_id": [f"P{i}" for i in range(200)], "length_m": 1e-6, "connections_count": 10}
    )
    history = breaks_of([("2000-01-01", "P0"), ("2020-01-01", "P1")])
    leaks = leak_prior(network_of(table), history, year=2024).table["leaks_per_year"]
    assert leaks["P9"] == pytest.approx(10 * 0.003, rel=0.01)


def test_draws_lie_about_the_expected_leaks(
    network_of: Make, pipes_of: Make, breaks_of: Make
) -> None:
    table = pipes_of(300, cells=2, seed=3)
    history = breaks_of([(f"20{y}-06-01", f"P{y:05d}") for y in range(10, 24)])
    prior = leak_prior(network_of(table), history, year=2024)
    ratio = prior.draws.mean(axis=1) / prior.table["leaks_per_year"]
    assert ratio.median() == pytest.approx(1, abs=0.1)
    assert (prior.draws > 0).all()
