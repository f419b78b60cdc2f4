"""Which cells can be balanced, the meters around each, and the users inside."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy import sparse

from district.balance.grids import text
from district.balance.meter_errors import MeterErrors, meter_errors
from district.balance.storage import tank_edges
from district.errors import StageError
from district.estimates import Array
from district.network import Network
from district.schema.ids import held

USER_ROLES = ("building", "customer")


@dataclass(frozen=True, eq=False)
class Metering:
    """The balance's equations: net inflow of `cells` = `signs` @ flows of `meters`.

    cells, meters
        sorted ids. Among the meters are the level sensors of tanks inside cells, `tanks`: what
        rises in a tank leaves its cell as through a meter.
    signs
        sparse cells x meters: +1 where positive flow enters the cell, -1 where it leaves.
    errors
        how far each meter may be off, by the flow through it.
    users
        the connections in these cells, sorted by id: cell (position in `cells`), properties,
        use_class, meter_id ('' unless a building or customer meter of the network).
    homes
        zone_id -> the cell that carries it (cells without a label: their own id).
    apart
        each meter stands once a cell it bounds, named by the cell's position, a space and its id.
    """

    cells: pd.Index[Any]
    meters: pd.Index[Any]
    signs: Any
    errors: MeterErrors
    users: pd.DataFrame
    homes: dict[str, str]
    left_out: tuple[str, ...]
    tanks: tuple[str, ...] = ()
    apart: bool = False

    @property
    def error_share(self) -> Array:
        """95 % limit of each meter's error at ordinary flows, as a share."""
        return self.errors.share


def metering(network: Network) -> Metering:
    """The cells whose inflow is fully metered: no source inside, at least one meter at the edge.

    The other cells are named, with the reason, in `left_out`. Raises `StageError` when none
    can be balanced.
    """
    edges = network.boundaries.assign(
        meter_id=text(network.boundaries["meter_id"]),
        upstream=text(network.boundaries["upstream_cell_id"]),
        downstream=text(network.boundaries["downstream_cell_id"]),
    ).sort_values("meter_id", ignore_index=True)
    # A meter with the same cell on both sides tells nothing of its inflow.
    edges = edges[edges["upstream"] != edges["downstream"]]
    touched = set(edges["upstream"]) | set(edges["downstream"])
    with_source = network.cells["has_source"].astype(bool)
    ids = [str(c) for c in network.cells.index]
    cells = pd.Index(
        sorted(c for c, s in zip(ids, with_source, strict=True) if not s and c in touched),
        dtype=object,
    )
    left_out = tuple(
        f"{c} is not balanced: "
        + (
            "it holds a source, whose inflow no zone meter measures."
            if s
            else "no zone meter lies at its edge."
        )
        for c, s in sorted(zip(ids, with_source, strict=True))
        if s or c not in touched
    )
    if not len(cells):
        raise StageError(
            "No zone can be balanced: each holds a source or has no zone meter at its edge. "
            "Check the meters' places and roles, and the valves recorded as shut."
        )
    into, out_of = cells.get_indexer(edges["downstream"]), cells.get_indexer(edges["upstream"])
    edges = edges[(into >= 0) | (out_of >= 0)]
    stores = tank_edges(network, cells)
    if len(stores):
        edges = pd.concat([edges, stores], ignore_index=True).sort_values("meter_id")
    meters = pd.Index(edges["meter_id"], dtype=object)
    into, out_of = cells.get_indexer(edges["downstream"]), cells.get_indexer(edges["upstream"])
    number = np.arange(len(meters))
    signs = sparse.csr_array(
        (
            np.concatenate([np.ones((into >= 0).sum()), -np.ones((out_of >= 0).sum())]),
            (
                np.concatenate([into[into >= 0], out_of[out_of >= 0]]),
                np.concatenate([number[into >= 0], number[out_of >= 0]]),
            ),
        ),
        shape=(len(cells), len(meters)),
    )
    errors = meter_errors(meters, edges["error_percent"], network.meters)
    return Metering(
        cells,
        meters,
        signs,
        errors,
        _users(network, cells),
        zone_homes(network),
        left_out,
        tuple(stores["meter_id"]),
    )


def zone_homes(network: Network) -> dict[str, str]:
    """Zone id -> cell id; a cell may carry several zones, and its own id always finds it."""
    homes = {str(c): str(c) for c in network.cells.index}
    if "zone_ids" in network.cells:
        for cell, zones in network.cells["zone_ids"].items():
            homes |= {str(z): str(cell) for z in zones}
    return homes


def _users(network: Network, cells: pd.Index[Any]) -> pd.DataFrame:
    taps = network.connections
    roles = text(network.meters["role"])
    usable = set(roles.index[roles.isin(USER_ROLES)])
    meter = text(taps["meter_id"])
    users = pd.DataFrame(
        {
            "cell": cells.get_indexer(text(taps["cell_id"])),
            "properties": taps["properties"].astype(float).fillna(0.0).to_numpy(),
            "use_class": text(taps["use_class"]).to_numpy(),
            "meter_id": meter.where(held(meter, usable), "").to_numpy(),
        },
        index=pd.Index([str(c) for c in taps.index], name="connection_id", dtype=object),
    )
    return users[users["cell"] >= 0].sort_index()


@dataclass(frozen=True, eq=False)
class Devices:
    """User meters with readings: sorted `ids`, the `inside` matrix (cells x devices), errors.

    `customer` is true of meters whose role is customer, false of those of buildings.
    """

    ids: pd.Index[Any]
    inside: Any
    errors: MeterErrors
    cell: npt.NDArray[np.int64]
    customer: npt.NDArray[np.bool_]

    @property
    def error_share(self) -> Array:
        """95 % limit of each meter's error at ordinary flows, as a share."""
        return self.errors.share


def devices(network: Network, layout: Metering, *, reading: pd.Index[Any]) -> Devices:
    """The building and customer meters among `reading`; one shared by connections counts once."""
    metered = layout.users[held(layout.users["meter_id"], reading)]
    first = metered.sort_values(["meter_id", "cell"]).drop_duplicates("meter_id")
    ids = pd.Index(first["meter_id"], dtype=object, name=None)
    cell = first["cell"].to_numpy(dtype=np.int64)
    inside = sparse.csr_array(
        (np.ones(len(ids)), (cell, np.arange(len(ids)))), shape=(len(layout.cells), len(ids))
    )
    errors = meter_errors(ids, network.meters["error_percent"].reindex(ids), network.meters)
    customer = text(network.meters["role"].reindex(ids)).eq("customer").to_numpy(dtype=bool)
    return Devices(ids, inside, errors, cell, customer)
