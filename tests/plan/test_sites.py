"""Which mains of a run may be one site."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from district.plan.runs import Runs
from district.plan.sites import allowed, site_numbers, sites_of


def runs_with(run: list[int], length_m: list[float]) -> Runs:
    count = len(run)
    return Runs(np.arange(count), np.array(run), ("S",) * count, np.array(length_m))


def test_a_site_goes_on_to_its_least_length_and_begins_so_early() -> None:
    sites = sites_of(runs_with([0] * 5, [30.0, 10.0, 10.0, 30.0, 20.0]), site_least_m=50.0)
    assert sites.reach.tolist() == [2, 3, 4, 4, -1]
    assert sites.begin.tolist() == [-1, -1, 0, 1, 3]


def test_a_shorter_run_is_a_site_whole_and_no_site_leaves_its_run() -> None:
    sites = sites_of(runs_with([0, 0, 1, 1], [20.0, 20.0, 60.0, 10.0]), site_least_m=50.0)
    assert sites.reach.tolist() == [1, -1, 2, -1]
    assert sites.begin.tolist() == [-1, 0, 2, 2]


def test_a_run_of_just_the_least_length_is_long_enough() -> None:
    sites = sites_of(runs_with([0, 0], [0.1 + 0.2, 49.7]), site_least_m=50.0)
    assert sites.reach.tolist() == [1, -1]


def test_without_a_least_length_each_main_may_be_a_site() -> None:
    sites = sites_of(runs_with([0, 0, 1], [5.0, 6.0, 7.0]), site_least_m=0.0)
    assert sites.reach.tolist() == sites.begin.tolist() == [0, 1, 2]


def test_no_mains_no_sites() -> None:
    runs = Runs(np.empty(0, int), np.empty(0, int), (), np.empty(0))
    assert len(sites_of(runs, site_least_m=50.0).reach) == 0
    assert len(site_numbers(runs, np.empty(0, bool))) == 0


def test_sites_are_numbered_along_the_runs() -> None:
    runs = runs_with([0, 0, 0, 1, 1], [1.0] * 5)
    chosen = np.array([True, False, True, True, True])
    assert site_numbers(runs, chosen).tolist() == [0, -1, 1, 2, 2]


def test_a_site_that_ends_too_soon_is_not_allowed() -> None:
    runs = runs_with([0, 0, 0], [30.0, 30.0, 30.0])
    sites = sites_of(runs, site_least_m=50.0)
    assert allowed(runs, sites, np.array([True, True, False]))
    assert not allowed(runs, sites, np.array([True, False, True]))
    assert not allowed(runs, sites, np.array([False, False, True]))


@given(
    st.lists(st.tuples(st.booleans(), st.integers(1, 40)), min_size=1, max_size=12),
    st.integers(0, 60),
)
def test_beginnings_and_ends_tell_the_same_sites(
    mains: list[tuple[bool, int]], least_m: int
) -> None:
    run = np.cumsum([new for new, _ in mains]).tolist()
    length = np.array([m for _, m in mains], dtype=float)
    sites = sites_of(runs_with(run, length.tolist()), site_least_m=float(least_m))
    for a in range(len(run)):
        for b in range(a, len(run)):
            whole = length[np.array(run) == run[a]].sum()
            own = length[a : b + 1].sum()
            may = run[a] == run[b] and (own >= least_m or own == whole)
            assert may == (0 <= sites.reach[a] <= b and run[a] == run[b])
            assert may == (a <= sites.begin[b] and run[a] == run[b])
