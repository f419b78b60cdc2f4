"""Daily volumes of zone meters and of users, ready to be added up."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from scipy import sparse

from district.balance.grids import column_medians, grid, grids, ids_in, rows_of, span
from district.balance.gross import gross_of
from district.balance.meter_errors import error_l_s, errors_at
from district.balance.metering import Devices, Metering, devices
from district.balance.use import Use, day_use
from district.estimates import Array
from district.network import Network
from district.schema.ids import held
from district.settings import Settings
from district.units import M3_PER_L_S_H
from district.words import listed, percent, whole

COVERAGE_NEEDED = 0.95
"""A day read less than this is left out; one read this much is scaled to the whole day."""
NEARBY_DAYS = 15
M3_D_PER_L_S = 24.0 * M3_PER_L_S_H


@dataclass(frozen=True, eq=False)
class Volumes:
    """What passed each meter by day.

    days
        every local day from the first to the last of the zone meters.
    edge_m3
        days x zone meters; NaN where the day is not known.
    edge_gross_m3
        the same, what passed either way: a meter whose flow turns round errs by that.
    inflow_m3
        days x cells; NaN unless every meter of the cell is known.
    devices, user_m3
        user meters with readings, and days x user meters, filled.
    unmetered
        use of everyone else by allowance, m3/d by cell.
    """

    days: pd.DatetimeIndex
    edge_m3: Array
    edge_gross_m3: Array
    inflow_m3: Array
    devices: Devices
    user_m3: Array
    unmetered: Use
    assumptions: tuple[str, ...]
    limits: tuple[str, ...]

    def consumption_m3(self) -> Array:
        """Metered and allowed use, days x cells."""
        return np.asarray((self.devices.inside @ self.user_m3.T).T + self.unmetered.mean)

    def edge_means_m3_d(self, layout: Metering, *, counted: Any) -> Any:
        """Signed mean daily volume of each zone meter into each cell over the `counted` days.

        Parameters: `counted` days x cells, true on days whose inflow is known. Returns a sparse
        cells x meters; its row sums are the cells' mean inflow, its column sums over cells what
        crosses the outer edge of them all.
        """
        signs = layout.signs.tocoo()
        means = signs.data * _means(self.edge_m3, signs, counted)
        return sparse.csr_array((means, (signs.row, signs.col)), shape=signs.shape)

    def edge_errors_m3_d(self, layout: Metering, *, counted: Any) -> Any:
        """95 % limit of each entry of `edge_means_m3_d`, by the error at the mean flow either way.

        Signed by the side of the meter a cell is on, so that the column sums over cells are the
        limits of what crosses the outer edge of them all: an inner meter, right or wrong, cancels.
        """
        signs = layout.signs.tocoo()
        mean = _means(self.edge_gross_m3, signs, counted)
        error = error_l_s(mean / M3_D_PER_L_S, errors_at(layout.errors, signs.col))
        signed = signs.data * error * M3_D_PER_L_S
        return sparse.csr_array((signed, (signs.row, signs.col)), shape=signs.shape)


def daily_volumes(
    network: Network, layout: Metering, daily: pd.DataFrame, *, settings: Settings
) -> Volumes:
    """Bring the table DAILY_VOLUMES to the balance's days, meters and users."""
    at_edge = daily.iloc[rows_of(daily["device_id"], layout.meters)[0]]
    at_edge = at_edge.assign(
        volume_m3=_whole_m3(at_edge, at_edge["volume_m3"]),
        gross_m3=_whole_m3(at_edge, gross_of(at_edge, net="volume_m3", gross="gross_m3")),
    )
    days = span(at_edge.loc[at_edge["volume_m3"].notna(), "day"])
    edge, gross = grids(
        at_edge, row="day", values=("volume_m3", "gross_m3"), rows=days, columns=layout.meters
    )
    missing = (abs(layout.signs) @ np.isnan(edge).T.astype(float)).T > 0
    inflow = np.where(missing, np.nan, (layout.signs @ np.nan_to_num(edge).T).T)

    # Users are many: no table of theirs is made that need not be.
    usable = daily[["device_id", "day"]].assign(volume_m3=_whole_m3(daily, daily["volume_m3"]))
    known = usable["volume_m3"].notna().to_numpy()
    users = devices(network, layout, reading=ids_in(daily["device_id"][known]))
    user, filled = _filled(grid(usable, row="day", value="volume_m3", rows=days, columns=users.ids))
    silent = user.shape[0] > 0 and np.isnan(user).all(axis=0)
    if np.any(silent):  # Readings outside the zone meters' days only: as if there were none.
        users = devices(network, layout, reading=users.ids[~silent])
        user, filled = user[:, ~silent], filled[:, ~silent]
    bare = layout.users[~held(layout.users["meter_id"], users.ids)]
    unmetered = day_use(bare, layout.cells, settings=settings)
    said = list(unmetered.assumptions)
    if filled.any():
        said.append(
            f"Missing days of user meters ({listed(users.ids[filled.any(axis=0)])}): "
            f"{whole(filled.sum())}; the meter's median over nearby days stands in."
        )
    rows = rows_of(daily["device_id"], users.ids)[0]
    spread = daily["spread_share"].to_numpy(dtype=float)[rows[known[rows]]] > 0
    if spread.any():
        share = percent(spread.mean(), decimals=0)
        said.append(
            "Readings further apart than a day are spread evenly over the days between "
            f"({'less than 1 %' if share == percent(0.0, decimals=0) else share} of user days)."
        )
    return Volumes(days, edge, gross, inflow, users, user, unmetered, tuple(said), unmetered.limits)


def _whole_m3(daily: pd.DataFrame, volume_m3: pd.Series[Any]) -> Array:
    """Volume of the whole day of each row, by what was read of it; NaN where too little was."""
    share = daily["coverage_share"].to_numpy(dtype=float)
    known = daily["volume_m3"].notna().to_numpy() & (share >= COVERAGE_NEEDED)
    whole = np.full(len(daily), np.nan)
    np.divide(volume_m3.to_numpy(dtype=float), np.minimum(share, 1.0), out=whole, where=known)
    return whole


def _means(edge_m3: Array, signs: Any, counted: Any) -> Array:
    """Mean over each cell's counted days of each of its meters, in the order of `signs`."""
    flows = np.where(counted[:, signs.row], edge_m3[:, signs.col], 0.0).sum(axis=0)
    return np.asarray(flows / np.maximum(counted.sum(axis=0), 1)[signs.row])


def _filled(user: Array) -> tuple[Array, Any]:
    empty = np.isnan(user)
    gappy = np.flatnonzero(empty.any(axis=0) & ~empty.all(axis=0))
    if gappy.size:
        part = user[:, gappy]
        near = pd.DataFrame(part).rolling(NEARBY_DAYS, center=True, min_periods=3).median()
        whole = column_medians(part)
        guess = np.where(np.isnan(near), whole, near)
        user = user.copy()
        user[:, gappy] = np.where(np.isnan(part), guess, part)
    return user, empty
