"""Table EVIDENCE: what each piece of evidence about a leak did to the walk."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from district.break_rates import Reals
from district.locate.pieces import shortest_walk
from district.locate.posterior import spread
from district.locate.several import in_order
from district.locate.spots import Evidence, Sought
from district.locate.walk import Walk


def evidence_rows(
    sought: Sought,
    log_prior: Reals,
    evidence: Sequence[Evidence],
    walk: Walk,
    *,
    prior_said: str,
    hold_share: float,
) -> list[dict[str, Any]]:
    """Rows of EVIDENCE for one leak: the prior, then each piece of evidence by kind; one row for
    records that could not count in the same words.

    `walk_m` is the set by the prior and all rows down to this one, `walk_without_m` the set by all
    but this one, `moved_share` the total variation between the answer with and without it. Without
    the prior every metre of main is alike.
    """
    pieces = in_order(evidence)
    final = spread(log_prior, pieces, walk).probability
    even = np.log(np.maximum(walk.end_m - walk.begin_m, 1e-9))

    def length_m(probability: Reals) -> float:
        return shortest_walk(walk, probability, hold_share=hold_share).length_m

    def row(kind: str, said: str, used: bool, upto: Reals | None, without: Reals) -> dict[str, Any]:
        return {
            "sought_id": sought.sought_id,
            "cell_id": sought.cell_id,
            "kind": kind,
            "said": said,
            "used": used,
            "walk_m": rows[-1]["walk_m"] if upto is None else length_m(upto),
            "walk_without_m": length_m(without) if used else final_m,
            "moved_share": float(np.abs(final - without).sum() / 2) if used else 0.0,
        }

    final_m = length_m(final)
    rows: list[dict[str, Any]] = []
    rows.append(
        row(
            "prior",
            prior_said,
            True,
            spread(log_prior, [], walk).probability,
            spread(even, pieces, walk).probability,
        )
    )
    unused: set[tuple[str, str]] = set()
    for number, piece in enumerate(pieces):
        if not piece.used:
            if (piece.kind, piece.said) in unused:
                continue
            unused.add((piece.kind, piece.said))
            rows.append(row(piece.kind, piece.said, False, None, final))
            continue
        upto = spread(log_prior, pieces[: number + 1], walk).probability
        rest = [e for e in pieces if e is not piece]
        rows.append(
            row(piece.kind, piece.said, True, upto, spread(log_prior, rest, walk).probability)
        )
    return rows
