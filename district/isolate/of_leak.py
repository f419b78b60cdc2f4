"""The segments that a leak may lie in, and what shutting each takes."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import pandas as pd

from district.isolate.failures import sources_in
from district.isolate.graph import closure
from district.isolate.order import Stuck, stuck_gates, valve_of
from district.isolate.segments import Segments
from district.isolate.weights import loss_columns
from district.network import Network
from district.schema.columns import empty
from district.schema.isolate_tables import LEAK_SEGMENTS
from district.words import listed, natural

_LEAST_SHARE = 0.005
"""A segment with less of the probability is not told: half of one per cent. Convention."""
_NAMED = 4


def leak_segments(
    network: Network,
    segments: Segments,
    likelihood: pd.DataFrame,
    stretches: pd.DataFrame,
    *,
    sought_id: str,
    stuck: Iterable[str] = (),
) -> pd.DataFrame:
    """Table LEAK_SEGMENTS of one leak looked for, the likeliest segment first.

    Parameters: tables LIKELIHOOD and STRETCHES; ids of valves that are `stuck`, which no row
    counts on. What to shut and what is dry is that of `plan_shut_off`, areas in doubt left out.
    The probability of a part of pipe is its share of what is looked for in the zone; where several
    leaks are looked for there, of the parts on the stretches that are walked for this one. Shares
    are of what the table LIKELIHOOD holds, and add to 1 with the segments left out as unlikely.
    Empty where no stretch is walked for `sought_id`. Raises `InputError` for a stuck valve that is
    not on the map.
    """
    own = stretches[[sought_id in _ids(ids) for ids in stretches["sought_ids"]]]
    if own.empty:
        return empty(LEAK_SEGMENTS)
    parts = likelihood[likelihood["cell_id"].isin(own["cell_id"])]
    zone = stretches[stretches["cell_id"].isin(own["cell_id"])]
    others = {i for ids in zone["sought_ids"] for i in _ids(ids)} - {sought_id}
    if others:
        parts = parts[parts["stretch_id"].isin(own["stretch_id"])]
    of_pipe = segments.pipes.set_index("pipe_id")["segment_id"]
    parts = parts.assign(
        segment_id=of_pipe.reindex(parts["pipe_id"]).to_numpy(dtype=object),
        share=parts["probability_share"].fillna(0.0),
    ).dropna(subset="segment_id")
    total = float(parts["share"].sum())
    if total <= 0:
        return empty(LEAK_SEGMENTS)
    parts = parts.assign(share=parts["share"] / total).sort_values(
        ["share", "pipe_id"], ascending=[False, True], kind="stable"
    )
    by = parts.groupby("segment_id", sort=False)
    found = pd.DataFrame(
        {
            "probability_share": by["share"].sum(),
            "pipes": by["stretch_id"].agg(
                lambda ids: listed(list(dict.fromkeys(ids)), shown=_NAMED)
            ),
        }
    )
    least = min(_LEAST_SHARE, float(found["probability_share"].max()))
    found = found[found["probability_share"] >= least]
    found = found.join(
        _shut_off(segments, found.index, stuck_gates(network, segments.piping, stuck))
    )
    found = found.reset_index().sort_values(
        ["probability_share", "segment_id"], ascending=[False, True], kind="stable"
    )
    found["rank"] = np.arange(1, len(found) + 1)
    return found.reset_index(drop=True)[list(LEAK_SEGMENTS.names())]


def _shut_off(segments: Segments, segment_ids: Iterable[str], stuck: Stuck) -> pd.DataFrame:
    """By segment: the valves to shut so that it is dry, the sources, and what is dry then."""
    number = pd.Series(range(len(segments.table)), index=segments.segment_ids())
    rows, dry = {}, []
    for name in segment_ids:
        wanted = np.zeros(segments.graph.segments_count, dtype=bool)
        wanted[number[name]] = True
        made = closure(segments.graph, wanted, stuck.failed)
        valves = [valve_of(segments.piping, int(g), stuck.not_turning)[0] for g in made.gates]
        rows[name] = {
            "valves": ", ".join(natural(valves)),
            "valves_count": len(valves),
            "sources": ", ".join(sources_in(segments, made)),
        }
        lost = (made.shut_off & segments.graph.fed) | made.unintended
        dry.append(segments.weight[lost].sum(axis=0))
    table = pd.DataFrame.from_dict(rows, orient="index")
    return table.assign(**loss_columns(np.array(dry), "dry"))


def _ids(text: object) -> list[str]:
    return [i for i in str(text or "").split(", ") if i]
