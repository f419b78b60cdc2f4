"""How much hangs on every segment, and on every valve should it not close."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.hydraulics.model import Flags, Reals, Wholes
from district.isolate.hanging import (
    Hanging,
    Pairs,
    cut_off,
    dry_alone,
    dry_together,
    hanging_of,
    pairs_of,
)
from district.isolate.segments import Segments
from district.isolate.weights import CRITICAL, LENGTH, PROPERTIES, loss_columns
from district.schema.isolate_tables import SEGMENT_LOSSES, VALVE_LOSSES


def segment_losses(segments: Segments) -> pd.DataFrame:
    """Table SEGMENT_LOSSES: for every segment that is fed, what its shut-off takes with it.

    All at once, from one walk over the graph of segments (`hanging`), in time that grows with the
    number of segments and gates. Check and reducing valves are taken to pass water both ways.
    """
    hanging = hanging_of(segments.graph)
    weight = _by_place(segments, hanging)
    fed = np.flatnonzero(segments.graph.fed)
    at = hanging.place[fed]
    dry = dry_alone(hanging, weight)[at]
    count = len(hanging.above)
    areas = np.bincount(hanging.above[np.flatnonzero(cut_off(hanging))], minlength=count)
    to_shut = _valves_to_shut(segments, hanging)
    own = segments.table.iloc[fed]
    table = pd.DataFrame(
        {
            "segment_id": own["segment_id"].to_numpy(dtype=object),
            "valves_count": to_shut[at],
            "sources": own["sources"].to_numpy(dtype=object),
            "areas_count": areas[at],
            **loss_columns(dry, "dry"),
            **loss_columns(dry - weight[at], "unintended"),
            "rank": 0,
        }
    )
    return _ranked(table, dry)[list(SEGMENT_LOSSES.names())]


def valve_losses(segments: Segments) -> pd.DataFrame:
    """Table VALVE_LOSSES: what each open valve costs if it does not close.

    Either segment beside it may have to be shut off: the other one is dry then too, with all that
    hangs from both. What is told is the worse of the two beyond what is dry with the valve closed.
    A valve with another at the same place costs nothing, as the other is shut instead; nor does
    one at a source's outlet, as the source is shut at its works.
    """
    graph, piping = segments.graph, segments.piping
    hanging = hanging_of(graph)
    pairs = pairs_of(graph, hanging)
    weight = _by_place(segments, hanging)
    both = dry_together(hanging, pairs, weight)
    alone = dry_alone(hanging, weight)
    place = np.append(hanging.place, 0)
    lone = np.array([len(v) == 1 for v in piping.gate_valves], dtype=bool)[pairs.gate]
    shape = (len(piping.gate_valves), weight.shape[1])
    more: dict[int, Reals] = {}
    for side, segment in enumerate((graph.gate_first, graph.gate_second)):
        extra = np.zeros(shape)
        extra[pairs.gate] = (both - alone[place[segment[pairs.gate]]]) * lone[:, None]
        more[side] = extra
    worse = _worse(more[1], more[0])
    worst = np.where(worse[:, None], more[1], more[0])
    ids = np.append(segments.segment_ids(), "")
    length = np.append(segments.weight[:, LENGTH], 0.0)
    share = _share(length[graph.gate_first], length[graph.gate_second])
    mean = share * more[0][:, PROPERTIES] + (1 - share) * more[1][:, PROPERTIES]
    gates, names, beside = _open_valves(segments)
    second_worst = worse[gates]
    none = worst[gates].sum(axis=1) <= 0
    first_id, second_id = ids[graph.gate_first[gates]], ids[graph.gate_second[gates]]
    table = pd.DataFrame(
        {
            "valve_id": names,
            "segment_id": first_id,
            "other_segment_id": second_id,
            "beside": beside,
            "worst_for": np.where(none, "", np.where(second_worst, second_id, first_id)),
            **loss_columns(worst[gates], "more"),
            "expected_properties_count": mean[gates],
            "rank": 0,
        }
    )
    return _ranked(table, worst[gates])[list(VALVE_LOSSES.names())]


def _by_place(segments: Segments, hanging: Hanging) -> Reals:
    """Weights (R + 1, K) in the order of the walk; the supply counts nothing."""
    weight = np.zeros((len(hanging.above), segments.weight.shape[1]))
    fed = hanging.place >= 0
    weight[hanging.place[fed]] = segments.weight[fed]
    return weight


def _valves_to_shut(segments: Segments, hanging: Hanging) -> Wholes:
    """By place, the gates to what stays fed: all upward, and those to branches fed elsewhere."""
    graph = segments.graph
    place = np.append(hanging.place, 0)
    ends = np.column_stack([place[graph.gate_first], place[graph.gate_second]])
    ends = np.sort(ends[graph.gate_open & (ends >= 0).all(axis=1)], axis=1)
    ends = ends[ends[:, 0] < ends[:, 1]]
    count = len(hanging.above)
    upward = np.bincount(ends[:, 1], minlength=count)
    inner = ends[ends[:, 0] > 0]
    pairs = Pairs(np.arange(len(inner)), inner[:, 0], inner[:, 1])
    lost = cut_off(hanging)[pairs.branch_toward(hanging)]
    downward = np.bincount(inner[~lost, 0], minlength=count)
    return np.asarray(upward + downward)


def _open_valves(segments: Segments) -> tuple[Wholes, list[str], list[str]]:
    """Gate and id of every valve that can be shut at an open gate, and those at the same place."""
    gates, names, beside = [], [], []
    for gate in np.flatnonzero(segments.graph.gate_open):
        here = segments.piping.gate_valves[gate]
        for name in here:
            gates.append(int(gate))
            names.append(name)
            beside.append(", ".join(v for v in here if v != name))
    return np.array(gates, dtype=np.int64), names, beside


def _worse(one: Reals, other: Reals) -> Flags:
    """Whether `one` (n, K) is worse than the other: critical users, properties, then length."""
    result = np.zeros(len(one), dtype=bool)
    for k in (LENGTH, PROPERTIES, CRITICAL):
        result = np.where(one[:, k] == other[:, k], result, one[:, k] > other[:, k])
    return result


def _share(one: Reals, other: Reals) -> Reals:
    total = one + other
    return np.asarray(np.divide(one, total, out=np.full(len(one), 0.5), where=total > 0))


def _ranked(table: pd.DataFrame, weight: Any) -> pd.DataFrame:
    """Sorted, the worst first; those alike in the order given."""
    order = np.lexsort(
        [np.arange(len(table)), *(-weight[:, k] for k in (LENGTH, PROPERTIES, CRITICAL))]
    )
    table = table.iloc[order].reset_index(drop=True)
    table["rank"] = np.arange(1, len(table) + 1)
    return table
