"""Where each zone's leaks most likely are: probability by pipe, order of search, what to walk."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

import numpy as np
import pandas as pd

from district.break_rates import Reals
from district.locate.basis import basis_of
from district.locate.chances import chances
from district.locate.gather import gathered
from district.locate.order import numbered, parts_in_set, ranked, walk_columns
from district.locate.prior import Prior, leak_prior
from district.locate.sought import sought_leaks, true_excess
from district.locate.spots import Evidence, Heard, Seen, Sought, Spots, spots_of
from district.locate.stretches import stretch_of_parts, stretch_table
from district.locate.walk import Walk, quantiles_m, walk_of, whole_walk
from district.locate.words import reasons
from district.locate.zone_search import ZoneSearch, search_zone, set_rows
from district.network import Network
from district.results import Location
from district.schema.columns import empty
from district.schema.located import CALIBRATION, EVIDENCE, LOGGER_CHECKS
from district.schema.outputs import LIKELIHOOD, SEARCH_SETS
from district.settings import Settings
from district.words import plural

_FLOW = ("flow_l_s", "flow_l_s_low", "flow_l_s_high")
_ALONG = ("along_m", "along_m_low", "along_m_high")
_SHARES = (0.5, 0.025, 0.975)


def locate_leaks(
    network: Network,
    breaks: pd.DataFrame,
    zones: pd.DataFrame,
    events: pd.DataFrame,
    *,
    settings: Settings,
    year: int,
    heard: Heard | None = None,
    seen: Seen | None = None,
    until: date | None = None,
) -> Location:
    """Probability that each zone's leaks are on each of its pipes, and what to walk.

    Parameters: `breaks` input table BREAKS, `zones` table ZONES, `events` table EVENTS, `year`
    in which pipes have their age; `heard` and `seen` what pressure loggers and crews told; `until`
    last day of readings, by which a record is old or not (the latest in `seen` if None). Looked
    for is every open leak of a zone, and its excess beyond them where that is clearly above 0.
    Each has the probability of its zone's share of expected leaks (`leak_prior`) times the
    likelihood of all evidence about it. Limits come from draws of the expected leaks.

    The search goes by expected flow found for each metre walked, over all leaks. Sets and ranks
    are by stretch, so that the parts of one pipe stay together. Rows of the likelihood are those
    of `network.pipes`, in order of pipe_id. Nothing is written to.
    """
    prior = leak_prior(network, breaks, year=year)
    spots = spots_of(network, prior)
    excess = true_excess(zones, events)
    leaks = sought_leaks(excess, events)
    evidence = gathered(
        network,
        spots,
        leaks,
        zones,
        events,
        settings=settings,
        heard=heard,
        seen=seen,
        until=until,
    )
    searches, tables = searched(prior, spots, excess, leaks, evidence, settings=settings)
    known = heard.calibrated if heard is not None else None
    return Location(
        **tables,
        basis=basis_of(prior, breaks, searches, heard, settings),
        logger_checks=known.loggers if known else empty(LOGGER_CHECKS),
        calibration=known.groups if known else empty(CALIBRATION),
    )


def searched(
    prior: Prior,
    spots: Spots,
    excess: pd.DataFrame,
    leaks: Sequence[Sought],
    evidence: Mapping[str, Sequence[Evidence]],
    *,
    settings: Settings,
) -> tuple[list[ZoneSearch], dict[str, pd.DataFrame]]:
    """The search of each zone that has something to find; LIKELIHOOD, STRETCHES, SEARCH_SETS and
    EVIDENCE as `results.Location` names them.

    Parameters: `excess` as `true_excess` gives it, `evidence` by sought_id, over all spots.
    """
    table, pipe_ids = prior.table, prior.table.index
    cell_names, cell = np.unique(table["cell_id"].to_numpy(dtype=str), return_inverse=True)
    stretch_id = stretch_of_parts(table["layer_pipe_id"], table["cell_id"])
    names, stretch = np.unique(stretch_id.to_numpy(dtype=str), return_inverse=True)
    stretch_cell = cell[np.unique(stretch, return_index=True)[1]]
    whole = whole_walk(spots, pipe_ids, stretch)
    log_prior = _log_prior(spots)
    by_cell: dict[str, list[Sought]] = {}
    for leak in leaks:
        by_cell.setdefault(leak.cell_id, []).append(leak)
    searches = []
    for number in np.flatnonzero(np.isin(cell_names, list(by_cell))):
        name, walk = cell_names[number], walk_of(whole, stretch_cell == number)
        searches.append(
            search_zone(
                str(name),
                walk,
                log_prior[walk.spot],
                by_cell[name],
                evidence,
                prior_said=_prior_said(table[cell == number]),
                hold_share=settings.locate.hold_share,
            )
        )
    of_parts, of_stretches = chances(prior, spots, cell, searches, stretch)
    flow = _flows(cell_names, excess, searches)
    at_spot = _at_spots(spots, of_parts.probability_share[0], searches)
    to_walk = walk_columns(whole, names, of_stretches.probability_share[0], searches)
    searched_cell = np.isin(cell_names, [s.cell_id for s in searches])
    rank = ranked(
        to_walk["density"].to_numpy(), flow[stretch_cell, 0], searched_cell[stretch_cell], names
    )
    likelihood = pd.DataFrame(
        {
            "pipe_id": pipe_ids.to_numpy(),
            "stretch_id": stretch_id.to_numpy(),
            "cell_id": table["cell_id"].to_numpy(),
            "rank": numbered(np.lexsort((pipe_ids.to_numpy(dtype=str), rank[stretch]))),
            "length_m": table["length_m"].to_numpy(dtype=float),
            **of_parts.columns(),
            **_along(whole_walk(spots, pipe_ids, np.arange(len(table))), at_spot),
            "in_set": parts_in_set(whole, spots, to_walk),
            **dict(zip(_FLOW, flow[cell].T, strict=True)),
            "why": reasons(table),
        }
    )
    likelihood["probability_per_100_m_share"] = (
        100 * likelihood["probability_share"] / likelihood["length_m"].clip(lower=1e-9)
    )
    shown = ["in_set", "from_m", "to_m", "sought_ids"]
    own = {
        **of_stretches.columns(),
        **_along(whole, at_spot),
        **{name: to_walk[name].to_numpy() for name in shown},
        "rank": rank,
    }
    return searches, {
        "likelihood": likelihood[list(LIKELIHOOD.names())],
        "stretches": stretch_table(likelihood, table, own, names, stretch),
        "search_sets": _sets(searches),
        "evidence": _evidence(searches),
    }


def _log_prior(spots: Spots) -> Reals:
    """Logarithm of the leaks expected at each spot; by length in a zone that expects none."""
    names, cell = np.unique(spots.cell_id, return_inverse=True)
    none = np.bincount(cell, spots.leaks_per_year, len(names)) <= 0
    weight = np.where(none[cell], np.maximum(spots.length_m, 1e-9), spots.leaks_per_year)
    with np.errstate(divide="ignore"):
        return np.asarray(np.log(weight))


def _prior_said(zone: pd.DataFrame) -> str:
    breaks = int(zone.groupby("layer_pipe_id")["breaks_count"].first().sum())
    known = plural(breaks, "earlier break") if breaks else "no earlier break"
    return (
        "Leaks expected by length, material, age, bore and connections; "
        f"{known} on record in the zone."
    )


def _at_spots(spots: Spots, probability: Reals, searches: Sequence[ZoneSearch]) -> Reals:
    """Probability at every spot; in a zone without a search by its leaks expected."""
    total = np.bincount(spots.pipe, spots.leaks_per_year, len(probability))[spots.pipe]
    at = probability[spots.pipe] * spots.leaks_per_year / np.where(total > 0, total, 1.0)
    for search in searches:
        at[search.walk.spot] = search.probability
    return np.asarray(at)


def _along(walk: Walk, at_spot: Reals) -> dict[str, Reals]:
    return dict(zip(_ALONG, quantiles_m(walk, at_spot[walk.spot], _SHARES), strict=True))


def _flows(cell_names: Any, excess: pd.DataFrame, searches: Sequence[ZoneSearch]) -> Reals:
    """Flow looked for in each zone with limits, (zones, 3): of its leaks together, half-widths
    joined in quadrature; else its excess, not below 0."""
    flow = excess.reindex(cell_names)[list(_FLOW)].to_numpy(dtype=float).clip(min=0.0)
    for search in searches:
        each = np.array([f.flow_l_s for f in search.leaks])
        middle = each[:, 0].sum()
        below, above = (np.sqrt(((each[:, n] - each[:, 0]) ** 2).sum()) for n in (1, 2))
        flow[np.searchsorted(cell_names, search.cell_id)] = middle, middle - below, middle + above
    return np.asarray(flow)


def _sets(searches: Sequence[ZoneSearch]) -> pd.DataFrame:
    if not searches:
        return empty(SEARCH_SETS)
    rows = pd.concat([set_rows(s) for s in searches], ignore_index=True)
    rows = rows.sort_values(
        ["flow_l_s", "cell_id", "sought_id"], ascending=[False, True, True], ignore_index=True
    )
    return rows[list(SEARCH_SETS.names())]


def _evidence(searches: Sequence[ZoneSearch]) -> pd.DataFrame:
    rows = [row for s in searches for row in s.evidence]
    return pd.DataFrame(rows)[list(EVIDENCE.names())] if rows else empty(EVIDENCE)
