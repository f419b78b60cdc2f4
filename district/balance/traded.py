"""Water that crosses the edge of the district: put in, bought from others, sold on."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.balance.grids import text
from district.balance.metering import Metering
from district.balance.volumes import Volumes
from district.estimates import Z_95, Estimate, from_deviation
from district.network import Network
from district.settings import Settings
from district.words import listed


def supplied(
    network: Network, layout: Metering, volumes: Volumes, *, counted: Any, known: Any
) -> tuple[dict[str, Estimate], dict[str, Estimate]]:
    """Mean daily input and exported water, m3/d, of the `known` cells and of them together.

    Parameters: `counted` days x cells, true on days that count; `known` true of cells with one.
    What an outlet meter lets out of the district is exported, and is input as well; a meter
    between two cells cancels in their sum, and its error with it.
    """
    inside = np.flatnonzero(known)
    means = volumes.edge_means_m3_d(layout, counted=counted)[inside]
    errors = volumes.edge_errors_m3_d(layout, counted=counted)[inside] / Z_95
    out = selling(network, layout, volumes, counted=counted, known=known)

    def over(columns: Any, sign: int) -> tuple[Estimate, Estimate]:
        flow, error = means[:, columns], errors[:, columns]
        deviation = np.sqrt(np.asarray(error.multiply(error).sum(axis=1)))
        # Nothing is 0, not -0.
        each = from_deviation(sign * np.asarray(flow.sum(axis=1)) + 0.0, deviation)
        across = np.asarray(error.sum(axis=0))
        return each, from_deviation(each.value.sum(), np.sqrt((across**2).sum()))

    (supply, whole), (export, sold) = (
        over(np.flatnonzero(~out), 1),
        over(np.flatnonzero(out), -1),
    )
    return (
        {"system_input": supply, "billed_exported": export},
        {"system_input": whole, "billed_exported": sold},
    )


def selling(
    network: Network, layout: Metering, volumes: Volumes, *, counted: Any, known: Any
) -> Any:
    """Which zone meters let water out of the district in the year; parameters as of `supplied`."""
    inside = np.flatnonzero(known)
    into = volumes.edge_means_m3_d(layout, counted=counted)[inside].sum(axis=0)
    return exporting(network, layout.meters) & (np.asarray(into).ravel() < 0)


def exporting(network: Network, meters: pd.Index[Any]) -> Any:
    """Which of these zone meters lead out of the district: outlets with no cell beyond."""
    edges = network.boundaries.assign(meter_id=text(network.boundaries["meter_id"]))
    edges = edges.drop_duplicates("meter_id").set_index("meter_id").reindex(meters)
    beyond = (text(edges["upstream_cell_id"]) == "") | (text(edges["downstream_cell_id"]) == "")
    return ((text(edges["role"]) == "outlet") & beyond).to_numpy(dtype=bool)


def bought(
    layout: Metering, volumes: Volumes, *, counted: Any, known: Any, settings: Settings
) -> tuple[Estimate | None, tuple[str, ...]]:
    """Mean daily imported water of the district, m3/d (one entry), and which names tell none.

    None without `imported_meters` in the settings. A meter that is not at the outer edge of the
    `known` cells brings nothing into the district.
    """
    named = sorted(set(settings.annual.imported_meters))
    if not named:
        return None, ()
    inside = np.flatnonzero(known)
    into = volumes.edge_means_m3_d(layout, counted=counted)[inside].sum(axis=0)
    error = volumes.edge_errors_m3_d(layout, counted=counted)[inside].sum(axis=0) / Z_95
    outer = np.asarray(layout.signs[inside].sum(axis=0)).ravel() != 0
    at = np.flatnonzero(layout.meters.isin(named) & outer)
    strange = sorted(set(named) - set(layout.meters[at]))
    said = (
        f"Annual balance: {listed(strange)} brings no water over the edge of the balanced zones "
        "and is not counted as imported.",
    )
    deviation = np.sqrt((np.asarray(error).ravel()[at] ** 2).sum())
    found = from_deviation([np.asarray(into).ravel()[at].sum()], [deviation])
    return found, said if strange else ()


def source_lines(supply: Estimate, imported: Estimate) -> dict[str, Estimate]:
    """The district's own and imported water as lines of the balance, NaN for its cells, m3/d.

    Parameters: `supply` the system input, the district first; `imported` of the district alone.
    """
    whole = Estimate(*(x[:1] for x in supply))
    # The rest has other meters than what is bought: its variance is what is left.
    spread = ((whole.high - whole.value) ** 2 - (imported.high - imported.value) ** 2).clip(0.0)
    rest = whole.value - imported.value
    own = Estimate(rest, rest - np.sqrt(spread), rest + np.sqrt(spread))
    gap = np.full(len(supply.value) - 1, np.nan)
    return {
        name: Estimate(*(np.append(x, gap) for x in part))
        for name, part in (("own", own), ("imported", imported))
    }
