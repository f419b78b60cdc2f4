"""Which mains of a run may be one site: some in a row, long enough, or all of a short run."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from district.plan.runs import Flags, Runs, Wholes

_SAME_M = 1e-6
"""Lengths that differ by less are the same."""


@dataclass(frozen=True, eq=False)
class Sites:
    """Where sites may begin and end, by place in the runs: shape (N).

    first, last
        places of the first and the last main of the run.
    reach
        place that a site which begins here goes on to at least; -1 where none may begin.
    begin
        the last place at which a site that ends here may begin; -1 where none may end.
    """

    first: Wholes
    last: Wholes
    reach: Wholes
    begin: Wholes


def sites_of(runs: Runs, *, site_least_m: float) -> Sites:
    """Where sites of at least `site_least_m` may begin and end; a shorter run is one site whole."""
    count = len(runs.run)
    place = np.arange(count)
    first = np.searchsorted(runs.run, runs.run, side="left").astype(np.int64)
    last = np.searchsorted(runs.run, runs.run, side="right").astype(np.int64) - 1
    along = np.concatenate([[0.0], np.cumsum(runs.length_m)])
    reach = np.searchsorted(along, along[:-1] + site_least_m - _SAME_M) - 1
    reach = np.maximum(reach, place)
    begin = np.searchsorted(reach, place, side="right") - 1
    short = along[last + 1] - along[first] < site_least_m - _SAME_M
    reach = np.where(short, np.where(place == first, last, count), reach)
    begin = np.where(short, np.where(place == last, first, -1), begin)
    reach = np.where(reach > last, -1, reach)
    begin = np.where(begin < first, -1, begin)
    return Sites(first, last, reach.astype(np.int64), begin.astype(np.int64))


def site_numbers(runs: Runs, chosen: Flags) -> Wholes:
    """The site each main belongs to, numbered along the runs, -1 where it is not chosen."""
    before = np.concatenate([[False], chosen[:-1]]) if len(chosen) else chosen
    begins = chosen & (~before | (np.diff(runs.run, prepend=-1) != 0))
    return np.where(chosen, np.cumsum(begins) - 1, -1).astype(np.int64)


def allowed(runs: Runs, sites: Sites, chosen: Flags) -> bool:
    """Whether every site of a choice may be one."""
    number = site_numbers(runs, chosen)
    places: dict[int, list[int]] = {}
    for place in np.flatnonzero(chosen):
        places.setdefault(int(number[place]), []).append(int(place))
    return all(0 <= sites.reach[p[0]] <= p[-1] for p in places.values())
