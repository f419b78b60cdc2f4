"""Night use that interval meters of users show, summed by cell."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.balance.grids import ids_in
from district.balance.gross import night_grids
from district.balance.meter_errors import error_l_s
from district.balance.metering import Metering, devices
from district.balance.noise import step_deviation_l_s
from district.estimates import Z_95, Array
from district.network import Network
from district.results import Reduced
from district.words import listed, whole

NEARBY_NIGHTS = 15


def measured_use(
    network: Network,
    layout: Metering,
    reduced: Reduced,
    *,
    nights: pd.DatetimeIndex,
    window_h: Array,
) -> tuple[tuple[Array, Array, Array], pd.Index[Any], list[str]]:
    """Use of interval-metered users; a missing night takes the median of nearby nights.

    `window_h` nights x 1, the length of each night's window. Returns mean flow and its systematic
    and random standard deviation (nights x cells, L/s), the meters, and what is to be said.
    """
    flows = reduced.night_flows
    users = devices(network, layout, reading=ids_in(flows["device_id"]))
    flow, gross = night_grids(flows, rows=nights, columns=users.ids)
    empty = np.isnan(flow)
    silent = empty.all(axis=0)
    if silent.any():  # They tell nothing of these nights.
        users = devices(network, layout, reading=users.ids[~silent])
        flow, gross, empty = (grid[:, ~silent] for grid in (flow, gross, empty))
    step = step_deviation_l_s(reduced.quality, users.ids, window_h=window_h)
    shown, random = gross, step**2
    gappy = np.flatnonzero(empty.any(axis=0))
    if gappy.size:
        part = pd.DataFrame(flow[:, gappy])
        near = part.rolling(NEARBY_NIGHTS, center=True, min_periods=3)
        median = near.median().fillna(part.median())
        # One single night tells no spread: the flow itself is then the spread.
        spread = near.std().fillna(part.std()).fillna(median.abs())
        flow[:, gappy] = part.fillna(median).to_numpy(dtype=float)
        gaps = empty[:, gappy]
        random[:, gappy] = np.where(gaps, spread.to_numpy(dtype=float) ** 2, random[:, gappy])
        shown[:, gappy] = np.where(gaps, flow[:, gappy], gross[:, gappy])
    error = error_l_s(shown, users.errors) / Z_95
    said = []
    if len(users.ids):
        said.append(f"Night use measured by interval meters of users: {len(users.ids)}.")
    if gappy.size:
        said.append(
            f"Missing nights of user meters ({listed(users.ids[gappy])}): {whole(empty.sum())}; "
            "the median of the meter's nearby nights stands in, with their spread."
        )
    return (
        (
            np.asarray((users.inside @ flow.T).T),
            np.sqrt((users.inside @ (error**2).T).T),
            np.sqrt((users.inside @ random.T).T),
        ),
        users.ids,
        said,
    )
