"""The segments that a leak may lie in, and what shutting each takes."""

from __future__ import annotations

import numpy as np
import pandas as pd

from district.isolate.losses import segment_losses
from district.isolate.segments import Segments
from district.schema.columns import empty
from district.schema.isolate_tables import LEAK_SEGMENTS
from district.words import listed

_LEAST_SHARE = 0.005
"""A segment with less of the probability is not told: half of one per cent. Convention."""
_NAMED = 4


def leak_segments(
    segments: Segments, likelihood: pd.DataFrame, stretches: pd.DataFrame, *, sought_id: str
) -> pd.DataFrame:
    """Table LEAK_SEGMENTS of one leak looked for, the likeliest segment first.

    Parameters: tables LIKELIHOOD and STRETCHES. The probability of a part of pipe is its share of
    what is looked for in the zone; where several leaks are looked for there, of the parts on the
    stretches that are walked for this one. Shares are of what the table LIKELIHOOD holds, and add
    to 1 with the segments left out as unlikely. Empty where no stretch is walked for `sought_id`.
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
    found = found[found["probability_share"] >= _LEAST_SHARE]
    around = segments.table.set_index("segment_id")[["valves"]]
    lost = segment_losses(segments).set_index("segment_id")
    dry = [c for c in lost if c.startswith("dry_")]
    found = found.join(around).join(lost[["valves_count", "sources", *dry]])
    found = found.reset_index().sort_values(
        ["probability_share", "segment_id"], ascending=[False, True], kind="stable"
    )
    found["rank"] = np.arange(1, len(found) + 1)
    return found.reset_index(drop=True)[list(LEAK_SEGMENTS.names())]


def _ids(text: object) -> list[str]:
    return [i for i in str(text or "").split(", ") if i]
