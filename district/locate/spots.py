"""Where a leak may be, as points along every pipe, and a piece of evidence about them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
import pandas as pd
import shapely

from district.break_rates import Reals
from district.hydraulics.water import Calibrated, Demands
from district.locate.pooling import Wholes
from district.locate.prior import Prior
from district.locate.rates import published_services
from district.network import Network


@dataclass(frozen=True, eq=False)
class Spots:
    """S spots: each stands for a short length of a pipe, in order of pipe and along it.

    pipe (S)
        position of its pipe in `network.pipes` sorted by pipe_id (the order of `leak_prior`).
    share (S)
        how far along the pipe, 0 at its start to 1 at its end.
    length_m (S)
        length of pipe it stands for.
    cell_id (S)
    x_m, y_m (S)
        where it is, in the network's metric CRS.
    leaks_per_year (S)
        expected leaks: its pipe's by length, those of connections at the spots nearest to them.
    service_share (S)
        share of these leaks that are of connections.
    """

    pipe: Wholes
    share: Reals
    length_m: Reals
    cell_id: Any
    x_m: Reals
    y_m: Reals
    leaks_per_year: Reals
    service_share: Reals


@dataclass(frozen=True, eq=False)
class Pairs:
    """How likely the readings are if the leak looked for is two leaks at once.

    place_of (S)
        place that each spot belongs to, 0 to M - 1; -1 outside the zone. In a large zone
        neighbours share one.
    one (M)
        log likelihood of one leak, up to a constant.
    two (M, M)
        log likelihood of two leaks with the same constant, averaged over how the flow is shared;
        symmetric.
    first_share (M, M)
        share of the flow at the place of the row, as the readings tell it.
    """

    place_of: Wholes
    one: Reals
    two: Reals
    first_share: Reals


@dataclass(frozen=True, eq=False)
class Evidence:
    """One piece of evidence about one leak looked for: a likelihood over the spots.

    sought_id
        the leak looked for: event_id, or cell_id where it is a zone's excess without an event.
    kind
        of `schema.located.EVIDENCE_KINDS`.
    said
        what was seen, in a sentence a practitioner reads.
    log_likelihood (S)
        up to a constant; all 0 where `used` is False.
    used
        False where it could not count; then `said` tells why.
    pairs
        the same if the leak is two at once, where that was looked at.
    """

    sought_id: str
    kind: str
    said: str
    log_likelihood: Reals
    used: bool = True
    pairs: Pairs | None = None


@dataclass(frozen=True)
class Sought:
    """One leak looked for: an open leak event of a zone, or its excess without an event."""

    sought_id: str
    cell_id: str
    kind: str
    """leak, growing_leak or excess."""
    flow_l_s: float
    flow_l_s_low: float
    flow_l_s_high: float
    start: date | None = None
    start_low: date | None = None
    start_high: date | None = None


@dataclass(frozen=True, eq=False)
class Heard:
    """What the pressure loggers told, and the model that explains them.

    `pressures`: table HOURLY_PRESSURES; `demands.hours` covers the days that are compared.
    """

    calibrated: Calibrated
    demands: Demands
    pressures: pd.DataFrame


@dataclass(frozen=True, eq=False)
class Seen:
    """What crews, sensors and the public told: input tables SURVEYS, STEP_TESTS, CORRELATIONS,
    SIGHTINGS; tables ALARMS and ACOUSTIC_NIGHTS of `schema.stored`."""

    surveys: pd.DataFrame
    step_tests: pd.DataFrame
    correlations: pd.DataFrame
    sightings: pd.DataFrame
    alarms: pd.DataFrame
    acoustic_nights: pd.DataFrame


def spots_of(network: Network, prior: Prior, *, spacing_m: float = 10.0) -> Spots:
    """Spots along every pipe, at most `spacing_m` apart, with the leaks of `leak_prior` on them.

    A pipe is cut into equal lengths, each with its spot in the middle. The leaks of the main itself
    are even along it; those of a connection are at the spot nearest to it, by the published rate
    of the connection and of its private pipe.
    """
    table = prior.table
    lines = network.pipes.geometry.reindex(table.index).to_numpy()
    length = table["length_m"].to_numpy(dtype=float)
    number = np.maximum(np.ceil(length / spacing_m), 1).astype(np.int64)
    first = np.cumsum(number) - number
    pipe = np.repeat(np.arange(len(table)), number)
    share = (np.arange(len(pipe)) - first[pipe] + 0.5) / number[pipe]
    points = shapely.line_interpolate_point(lines[pipe], share, normalized=True)
    services = _at_taps(network, table, first, number, len(pipe))
    leaks = table["leaks_per_year"].to_numpy(dtype=float)
    of_services = table["service_leaks_per_year"].to_numpy(dtype=float)
    total = np.bincount(pipe, services, len(table))[pipe]
    service = of_services[pipe] * np.where(total > 0, services / np.where(total > 0, total, 1), 0)
    both = ((leaks - of_services) / number)[pipe] + service
    return Spots(
        pipe=pipe.astype(np.int64),
        share=share,
        length_m=(length / number)[pipe],
        cell_id=table["cell_id"].to_numpy(dtype=str)[pipe],
        x_m=shapely.get_x(points),
        y_m=shapely.get_y(points),
        leaks_per_year=both,
        service_share=np.where(both > 0, service / np.where(both > 0, both, 1), 0.0),
    )


def _at_taps(
    network: Network, table: pd.DataFrame, first: Wholes, number: Wholes, count: int
) -> Reals:
    """Published leaks of the connections that tap the main at each spot."""
    owned = network.connections
    row = table.index.get_indexer(owned["pipe_id"])
    owned, row = owned[row >= 0], row[row >= 0]
    lines = network.pipes.geometry.reindex(table.index).to_numpy()
    at = shapely.line_locate_point(lines[row], owned.geometry.to_numpy(), normalized=True)
    spot = first[row] + np.minimum((np.nan_to_num(at) * number[row]).astype(int), number[row] - 1)
    private = owned["private_pipe_m"].to_numpy(dtype=float)
    return np.bincount(spot, published_services(np.ones(len(row)), private), count).astype(float)
