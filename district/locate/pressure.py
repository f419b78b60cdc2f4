"""What the pressure loggers say about where a leak is."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from district.hydraulics.model import Reals, Wholes
from district.locate.pressure_days import Windows, windows
from district.locate.pressure_hours import BLOCKS_COUNT, known_days, side_by_side
from district.locate.pressure_likelihood import Change, broadened, log_likelihood
from district.locate.pressure_noise import change_noise, fitted
from district.locate.pressure_pairs import pairs
from district.locate.pressure_parts import variation
from district.locate.pressure_residuals import drawings, unexplained
from district.locate.pressure_signatures import expected_use, signatures
from district.locate.pressure_words import seen_by_loggers
from district.locate.spots import Evidence, Heard, Sought, Spots
from district.network import Network
from district.schema.columns import empty
from district.schema.event_tables import EVENTS

_MOST_LOGGERS = 40
_FELT_M = 0.002
"""A logger at which no leak of the zone makes this difference is left out."""


def pressure_evidence(
    network: Network,
    spots: Spots,
    sought: Sought,
    heard: Heard,
    *,
    events: pd.DataFrame | None = None,
) -> Evidence:
    """Likelihood of each spot given the change of pressure since the leak began.

    Parameters: `events` table EVENTS, whose other changes of the zone narrow the days compared.
    The model's errors are taken over the draws of `heard.calibrated`; a single draw, equal to the
    model, takes roughness and use as known. Spots outside the leak's zone keep 0. Nothing is
    written to.
    """
    flat = np.zeros(len(spots.pipe))
    calibrated = heard.calibrated

    def nothing(reason: str) -> Evidence:
        return Evidence(sought.sought_id, "pressure", reason, flat, used=False)

    if calibrated.reason:
        return nothing(calibrated.reason)
    demands = expected_use(calibrated, heard.demands)
    cells = [str(c) for c in demands.cell_id]
    own = np.flatnonzero(np.asarray(spots.cell_id) == sought.cell_id)
    if sought.cell_id not in cells or not len(own) or sought.flow_l_s <= 0:
        return nothing("The inflow of the zone by the hour is not known.")
    cell = cells.index(sought.cell_id)
    compared = windows(
        sought,
        empty(EVENTS) if events is None else events,
        known_days(demands, cell, heard.pressures),
    )
    if compared.reason:
        return nothing(compared.reason)
    hours = side_by_side(demands, cell, heard.pressures, calibrated.drawn.logger_id, compared)
    halfway, change = drawings(hours, compared)
    first, second = _ends(network, spots, own, calibrated.drawn.pipe_link, calibrated)
    points, number = np.unique(np.concatenate([first, second]), return_inverse=True)
    likely = _likely(spots, own, first, second, len(calibrated.drawn.model.elevation_m))
    signs = signatures(
        calibrated, demands, cell, halfway, change,
        flow_l_s=sought.flow_l_s, likely_share=likely, points=points,
    )  # fmt: skip
    left = unexplained(hours, signs.sensitivity, compared)
    felt = np.ptp(signs.made_m, axis=2).max(axis=0)
    use = np.flatnonzero(calibrated.usable & left.read & (felt > max(_FELT_M, 0.02 * felt.max())))
    if not len(use):
        return nothing("No usable pressure logger feels where in the zone the leak is.")
    use = np.sort(use[np.argsort(-felt[use], kind="stable")[:_MOST_LOGGERS]])
    parts = variation(
        calibrated.drawn, demands, signs.sensitivity[:, use], halfway.use_l_s @ demands.use
    )
    keep = (np.arange(BLOCKS_COUNT)[:, None] * len(left.read) + use).ravel()
    factor = fitted((left.before_m[:, keep], left.after_m[:, keep]), parts)
    numbers = _day_numbers(compared)
    noise = change_noise(parts, factor, left.weight, numbers)
    size = len(keep)
    found = Change(
        left.change_m[:, use].ravel(),
        noise,
        np.tile(use, BLOCKS_COUNT),
        np.repeat(np.arange(BLOCKS_COUNT), len(use)),
        signs.made_m[:, use].reshape(size, -1).T,
        (sought.flow_l_s_high - sought.flow_l_s_low) / (2 * 1.96 * sought.flow_l_s),
        signs.drawn_m[:, :, use].reshape(-1, size, len(points)).transpose(2, 1, 0),
        number[: len(own)],
        number[len(own) :],
        spots.share[own],
    )
    expected = spots.leaks_per_year[own].clip(min=1e-12)
    found = broadened(found, expected)
    told = log_likelihood(found)
    flat[own] = told - told.max()
    prior = np.exp(flat[own]) * expected
    two = pairs(found, spots.pipe[own], prior / prior.sum())
    place_of = np.full(len(flat), -1)
    place_of[own] = two.place_of
    said = seen_by_loggers(found, calibrated.drawn.logger_id, likely[points])
    return Evidence(sought.sought_id, "pressure", said, flat, pairs=replace(two, place_of=place_of))


def _ends(
    network: Network, spots: Spots, own: Wholes, pipe_link: Wholes, calibrated: Any
) -> tuple[Wholes, Wholes]:
    """Model nodes at the start and the end of each spot's pipe."""
    order = np.argsort(network.pipes.index.to_numpy(dtype=str), kind="stable")
    link = pipe_link[order[spots.pipe[own]]]
    model = calibrated.drawn.model
    return model.start[link], model.end[link]


def _likely(spots: Spots, own: Wholes, first: Wholes, second: Wholes, nodes: int) -> Reals:
    """Share of the zone's expected leaks at each node of the model."""
    expected, share = spots.leaks_per_year[own], spots.share[own]
    total = np.bincount(first, expected * (1 - share), minlength=nodes)
    total = total + np.bincount(second, expected * share, minlength=nodes)
    return np.asarray(total / total.sum() if total.sum() > 0 else total)


def _day_numbers(compared: Windows) -> Reals:
    days = compared.before.append(compared.after)
    return np.asarray((days - days[0]) / pd.Timedelta(days=1), dtype=float)
