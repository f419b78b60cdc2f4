"""The best sites where no budget binds but money has a price: each run then stands alone."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from district.plan.runs import Flags, Reals, Runs, Wholes
from district.plan.sites import Sites, site_numbers


@dataclass(frozen=True, eq=False)
class Offer:
    """What may be renewed and what that is worth.

    `value` and `cost_currency` (N) of each main in order along the runs; `site_value`, at most 0,
    and `site_currency` of each site beside its mains.
    """

    runs: Runs
    sites: Sites
    value: Reals
    cost_currency: Reals
    site_value: float
    site_currency: float

    def worth(self, chosen: Flags) -> tuple[float, float]:
        """Value and cost of a choice, shape (N)."""
        count = int(site_numbers(self.runs, chosen).max(initial=-1)) + 1
        return (
            float(self.value[chosen].sum()) + self.site_value * count,
            float(self.cost_currency[chosen].sum()) + self.site_currency * count,
        )


@dataclass(frozen=True, eq=False)
class Priced:
    """The best of each run at one price: value less price by cost, shape (N).

    gain, along
        of each main alone, and summed up to here over all runs; `site` of each site.
    through
        of the best sites from the first main of the run up to here.
    start
        what is reached before a site that begins here, less `along` before it; -inf where none
        may begin.
    opened, opened_at
        the best `start` up to here, and the place of it (-1 where none may begin).
    """

    gain: Reals
    along: Reals
    site: float
    through: Reals
    start: Reals
    opened: Reals
    opened_at: Wholes

    def best(self, offer: Offer) -> float:
        """Of all runs together."""
        ends = np.flatnonzero(np.diff(offer.runs.run, append=-1))
        return float(self.through[ends].sum())


def priced(offer: Offer, price_index: float) -> Priced:
    """The best of every run where each unit of money costs `price_index` of value.

    By main along all runs at once: the best up to a main is the best up to the one before, or the
    best site that ends here with the best before it.
    """
    gain = offer.value - price_index * offer.cost_currency
    site = offer.site_value - price_index * offer.site_currency
    sites, count = offer.sites, len(gain)
    along = np.cumsum(gain)
    before_it = along - gain
    through = np.zeros(count)
    start, opened = np.full(count, -np.inf), np.full(count, -np.inf)
    opened_at = np.full(count, -1, dtype=np.int64)
    begins, held = _by_depth(offer)
    for depth, many in enumerate(held):
        at = begins[:many] + depth
        before = through[at - 1] if depth else np.zeros(many)
        begun = np.where(sites.reach[at] >= 0, before - before_it[at], -np.inf)
        start[at] = begun
        earlier = opened[at - 1] if depth else np.full(many, -np.inf)
        newer = begun > earlier
        opened[at] = np.where(newer, begun, earlier)
        opened_at[at] = np.where(newer, at, opened_at[at - 1] if depth else -1)
        begin = sites.begin[at]
        whole = np.where(begin >= 0, opened[begin] + along[at] + site, -np.inf)
        through[at] = np.maximum(before, whole)
    return Priced(gain, along, site, through, start, opened, opened_at)


def chosen_at(offer: Offer, found: Priced) -> Flags:
    """The sites that reach the best; of equal choices the one that renews less."""
    first, count = offer.sites.first, len(found.gain)
    before = np.concatenate([[0.0], found.through[:-1]]) if count else found.through
    rises = found.through > np.where(first == np.arange(count), 0.0, before)
    # The last main up to here at which a site of the best may end.
    ended = np.maximum.accumulate(np.where(rises, np.arange(count), -1))
    mark = np.zeros(count + 1, dtype=np.int64)
    at = np.flatnonzero(np.diff(offer.runs.run, append=-1))
    while len(at):
        end = ended[at]
        end = end[end >= first[at]]
        begin = found.opened_at[offer.sites.begin[end]]
        mark[begin] += 1
        mark[end + 1] -= 1
        at = (begin - 1)[begin > first[end]]
    return np.cumsum(mark[:-1]) > 0


def with_and_without(offer: Offer, found: Priced) -> tuple[Reals, Reals]:
    """The best of its run that renews this main, and the best that does not, each of shape (N);
    -inf where no site can hold it."""
    count = len(found.gain)
    onward = np.zeros(count)
    ending = np.full(count, -np.inf)
    sites = offer.sites
    begins, held = _by_depth(offer)
    for depth, many in enumerate(held):
        at = sites.last[begins[:many]] - depth
        after = onward[at + 1] if depth else np.zeros(many)
        ends = after + found.along[at]
        ending[at] = np.maximum(ending[at + 1], ends) if depth else ends
        reach = sites.reach[at]
        spent = found.along[at] - found.gain[at]
        whole = np.where(reach >= 0, ending[reach] - spent + found.site, -np.inf)
        onward[at] = np.maximum(after, whole)
    # A site that holds it begins so early that it may end anywhere from here on, or later.
    early = np.where(sites.begin >= 0, found.opened[sites.begin] + ending, -np.inf)
    late = np.where(sites.reach >= 0, found.start + ending[sites.reach], -np.inf)
    from_place = np.maximum(np.where(sites.begin >= 0, sites.begin + 1, sites.first), sites.first)
    renewed = np.maximum(early, _most(late, from_place)) + found.site
    place = np.arange(count)
    before = np.where(place > sites.first, found.through[place - 1], 0.0)
    after = np.where(place < sites.last, onward[np.minimum(place + 1, count - 1)], 0.0)
    return renewed, before + after


def _by_depth(offer: Offer) -> tuple[Wholes, Wholes]:
    """First places of the runs, the longest run first, and how many runs are longer than each
    number of mains."""
    begins = np.flatnonzero(np.diff(offer.runs.run, prepend=-1))
    size = np.diff(np.append(begins, len(offer.value)))
    order = np.argsort(-size, kind="stable")
    longest = int(size.max(initial=0))
    held = np.searchsorted(-size[order], -np.arange(longest), side="left")
    return begins[order], held.astype(np.int64)


def _most(amount: Reals, from_place: Wholes) -> Reals:
    """The most of the amounts from a place to each one, shape (N); -inf where it lies beyond."""
    place = np.arange(len(amount))
    width = place - from_place + 1
    most = np.full(len(amount), -np.inf)
    level = amount.copy()
    span = 1
    while span <= width.max(initial=0):
        # `level` holds the most of `span` amounts up to each place: two of them cover a width.
        mine = (width >= span) & (width < 2 * span)
        here = place[mine]
        most[mine] = np.maximum(level[here], level[from_place[mine] + span - 1])
        level[span:] = np.maximum(level[span:], level[:-span])
        span *= 2
    return most
