"""Where a zone's leak most likely is: probability by pipe, order of search, sets to walk."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.locate.evidence import sought
from district.locate.prior import Prior, leak_prior
from district.locate.rates import Reals
from district.locate.search import shortest_set
from district.locate.stretches import stretch_of_parts, stretch_table, summed
from district.locate.words import reasons
from district.network import Network
from district.results import Basis, Location
from district.schema.columns import empty
from district.schema.outputs import LIKELIHOOD, SEARCH_SETS
from district.settings import Settings
from district.words import percent

_LIMITS = (0.025, 0.975)
_FLOW = ("flow_l_s", "flow_l_s_low", "flow_l_s_high")


def locate_leaks(
    network: Network,
    breaks: pd.DataFrame,
    zones: pd.DataFrame,
    events: pd.DataFrame,
    *,
    settings: Settings,
    year: int,
) -> Location:
    """Probability that each zone's leak is on each of its pipes, and the stretches to walk.

    Parameters: `breaks` input table BREAKS, `zones` table ZONES, `events` table EVENTS, `year`
    in which pipes have their age. Given a leak in a zone, its probability on a pipe is that
    pipe's share of the leaks expected in the zone (`leak_prior`); limits come from draws of the
    expected leaks. The search goes by expected flow found for each metre walked. Sets are given
    for zones whose excess is above 0 at its lower limit or that have an open leak.
    Sets and ranks are by stretch, so that the parts of one pipe stay together. Rows of the
    likelihood are those of `network.pipes`, in order of pipe_id. Nothing is written to.
    """
    prior = leak_prior(network, breaks, year=year)
    table = prior.table
    cell_names, cell = np.unique(table["cell_id"].to_numpy(dtype=str), return_inverse=True)
    expected = table["leaks_per_year"].to_numpy(dtype=float)
    length = table["length_m"].to_numpy(dtype=float)
    probability = _shares(expected, cell, len(cell_names))
    drawn = _shares(prior.draws, cell, len(cell_names))
    low, high = _limits(drawn, probability)
    prior_low, prior_high = _limits(prior.draws, expected)

    stretch_id = stretch_of_parts(table["layer_pipe_id"], table["cell_id"])
    names, stretch = np.unique(stretch_id.to_numpy(dtype=str), return_inverse=True)
    stretch_cell = cell[np.unique(stretch, return_index=True)[1]]
    stretch_m = summed(length, stretch, len(names))
    stretch_p = summed(probability, stretch, len(names))

    flows = sought(zones, events).reindex(cell_names)
    searched = flows["searched"].eq(True).to_numpy()
    density = stretch_p / np.maximum(stretch_m, 1e-9)
    found = np.nan_to_num(flows["flow_l_s"].to_numpy(dtype=float))[stretch_cell] * density
    order = np.lexsort((names, -density, -found, ~searched[stretch_cell]))
    rank = _numbered(order)
    in_set, sets = _sets(stretch_p, stretch_m, stretch_cell, cell_names, flows, searched, settings)
    likelihood = pd.DataFrame(
        {
            "pipe_id": table.index.to_numpy(),
            "stretch_id": stretch_id.to_numpy(),
            "cell_id": table["cell_id"].to_numpy(),
            "rank": _numbered(np.lexsort((table.index.to_numpy(dtype=str), rank[stretch]))),
            "length_m": length,
            "prior_leaks_per_year": expected,
            "prior_leaks_per_year_low": prior_low,
            "prior_leaks_per_year_high": prior_high,
            "probability_share": probability,
            "probability_share_low": low,
            "probability_share_high": high,
            "probability_per_100_m_share": 100 * probability / np.maximum(length, 1e-9),
            "in_set": in_set[stretch],
            **{name: flows[name].to_numpy(dtype=float)[cell] for name in _FLOW},
            "why": reasons(table),
        }
    )[list(LIKELIHOOD.names())]
    by_stretch = {
        "prior_leaks_per_year": _summed_limits(expected, prior.draws, stretch, len(names)),
        "probability_share": _summed_limits(probability, drawn, stretch, len(names)),
    }
    stretches = stretch_table(likelihood, table, by_stretch, in_set, rank, names, stretch)
    return Location(likelihood, stretches, sets, _basis(prior, breaks, settings))


def _numbered(order: Any) -> Reals:
    rank = np.empty(len(order), dtype=float)
    rank[order] = np.arange(1, len(order) + 1)
    return rank


def _summed_limits(
    values: Reals, draws: Reals, stretch: Any, count: int
) -> tuple[Reals, Reals, Reals]:
    middle = summed(values, stretch, count)
    return (middle, *_limits(summed(draws, stretch, count), middle))


def _shares(values: Reals, cell: Any, count: int) -> Reals:
    """Each value as a share of its cell's sum (along the first axis); even where all are 0."""
    order = np.argsort(cell, kind="stable")
    first = np.searchsorted(cell[order], np.arange(count))
    total = np.add.reduceat(values[order], first, axis=0) if count else values
    total = np.asarray(total)[cell]
    pipes = np.bincount(cell, minlength=count)[cell].astype(float)
    even = 1 / (pipes if values.ndim == 1 else pipes[:, None])
    return np.asarray(np.where(total > 0, values / np.where(total > 0, total, 1), even))


def _limits(draws: Reals, middle: Reals) -> tuple[Reals, Reals]:
    ordered = np.sort(draws, axis=1)
    last = draws.shape[1] - 1
    low, high = (ordered[:, round(q * last)].astype(float) for q in _LIMITS)
    return np.minimum(low, middle), np.maximum(high, middle)


def _sets(
    probability: Reals,
    length: Reals,
    cell: Any,
    cell_names: Any,
    flows: pd.DataFrame,
    searched: Any,
    settings: Settings,
) -> tuple[Any, pd.DataFrame]:
    in_set = np.zeros(len(probability), dtype=bool)
    rows = []
    for number in np.flatnonzero(searched):
        own = np.flatnonzero(cell == number)
        chosen, gap = shortest_set(
            probability[own], length[own], hold_share=settings.locate.hold_share
        )
        in_set[own] = chosen
        walk, all_m = float(length[own][chosen].sum()), float(length[own].sum())
        rows.append(
            {
                "cell_id": str(cell_names[number]),
                **{name: float(flows[name].iloc[number]) for name in _FLOW},
                "held_share": float(probability[own][chosen].sum()),
                "pipes_count": float(chosen.sum()),
                "set_km": walk / 1000,
                "mains_km": all_m / 1000,
                "set_share": walk / all_m if all_m > 0 else 1.0,
                "gap_m": gap,
            }
        )
    if not rows:
        return in_set, empty(SEARCH_SETS)
    sets = pd.DataFrame(rows).sort_values(
        ["flow_l_s", "cell_id"], ascending=[False, True], ignore_index=True
    )
    return in_set, sets[list(SEARCH_SETS.names())]


def _basis(prior: Prior, breaks: pd.DataFrame, settings: Settings) -> Basis:
    dates = pd.to_datetime(breaks["date"]).dropna()
    limits = []
    if prior.breaks_used == 0:
        limits.append(
            "No break on record fits a pipe: pipes are told apart by material, age, bore, length "
            "and connections alone."
        )
    if prior.breaks_lost:
        limits.append(
            "Left out, on no pipe of the layer or older than the pipe: "
            f"{prior.breaks_lost} of {prior.breaks_used + prior.breaks_lost} breaks on record."
        )
    return Basis(
        first=dates.min().date() if len(dates) else None,
        last=dates.max().date() if len(dates) else None,
        assumptions=(
            "Expected leaks begin from published break rates by material (Folkman 2018) and by "
            "connection (Lambert et al. 1999), and are then drawn towards the district's own "
            f"breaks ({prior.breaks_used} over {prior.history_years:.0f} years).",
            "Assumed, without a source: how breaks grow with age (2 % a year), that they fall with "
            "bore (power 0.3), and that polyethylene breaks as PVC does.",
            "The size of the flow is not used to tell a leak on a main from one on a connection.",
            f"Sets hold {percent(settings.locate.hold_share)} on the understanding that the "
            "zone has one leak.",
        ),
        limits=tuple(limits),
    )
