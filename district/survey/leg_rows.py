"""Rows of SURVEY_LEGS, SURVEY_PATHS, SURVEY_SHIFTS and SURVEY_ROUNDS."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd

from district.schema.columns import Table, empty
from district.schema.survey_tables import (
    SURVEY_LEGS,
    SURVEY_PATHS,
    SURVEY_ROUNDS,
    SURVEY_SHIFTS,
)
from district.survey.ground import way_between
from district.survey.legs import Leg, Shift
from district.survey.lines import drawn
from district.survey.pieces import Piece
from district.survey.rounds import Round
from district.words import natural

_SAME_M = 0.01
_LIMITS = ("probability_share_low", "probability_share_high")


def placed(table: Table, rows: Sequence[dict[str, Any]], crs: Any) -> gpd.GeoDataFrame:
    """Rows as a layer with exactly the table's columns."""
    names = list(table.names())
    if not rows:
        return gpd.GeoDataFrame(empty(table), geometry="geometry", crs=crs)
    return gpd.GeoDataFrame(pd.DataFrame(rows)[names], geometry="geometry", crs=crs)


def legs_table(
    legs: Sequence[Leg],
    stretches: pd.DataFrame,
    points_on: Callable[[Piece], Sequence[Any]],
    *,
    looked_for_l_s: float,
    crs: Any,
) -> gpd.GeoDataFrame:
    """Table SURVEY_LEGS.

    Parameters: `stretches` table STRETCHES, `points_on` the listening points of a piece,
    `looked_for_l_s` all flow looked for in the zones walked.
    """
    known = stretches.set_index("stretch_id")
    flow = np.array([leg.flow_l_s for leg in legs])
    length = np.array([leg.piece.length_m for leg in legs])
    passed = np.cumsum(flow) / looked_for_l_s if looked_for_l_s > 0 else np.zeros(len(legs))
    dense = _ranks(-flow / np.maximum(length, 1e-9))
    soonest = _ranks(_soonest_places(legs))
    rows = []
    for n, leg in enumerate(legs):
        piece, row = leg.piece, known.loc[leg.piece.line.stretch_id]
        share = piece.probability_share
        part = share / max(float(row["probability_share"]), 1e-300)
        rows.append(
            {
                "leg": n + 1,
                "shift": leg.shift,
                "cell_id": piece.line.cell_id,
                "stretch_id": piece.line.stretch_id,
                "from_m": piece.to_m if leg.backwards else piece.from_m,
                "to_m": piece.from_m if leg.backwards else piece.to_m,
                "there_m": leg.there_m,
                "there_by": "straight" if leg.straight else leg.round.laid.ground.by,
                "length_m": piece.length_m,
                "points_count": sum(len(points_on(leg.round.pieces[k])) for k in leg.numbers),
                "leg_min": leg.leg_min,
                "since_start_min": leg.since_start_min,
                "probability_share": share,
                **{name: min(float(row[name]) * part, 1.0) for name in _LIMITS},
                "probability_per_100_m_share": 100 * share / max(piece.length_m, 1e-9),
                "expected_flow_l_s": leg.flow_l_s,
                "cumulative_share": float(passed[n]),
                "density_rank": int(dense[n]),
                "soonest_rank": int(soonest[n]),
                "sought_ids": str(row["sought_ids"]),
                "geometry": drawn(
                    piece.line,
                    *((piece.to_m, piece.from_m) if leg.backwards else (piece.from_m, piece.to_m)),
                ),
            }
        )
    return placed(SURVEY_LEGS, rows, crs)


def paths_table(legs: Sequence[Leg], crs: Any) -> gpd.GeoDataFrame:
    """Table SURVEY_PATHS: no row where a leg begins where the one before ended."""
    ways = {id(leg.round): leg.round.laid.ground.ways() for leg in legs}
    rows = []
    for n, leg in enumerate(legs):
        ground = leg.round.laid.ground
        ends = [(n + 1, leg.before, leg.first, leg.there_m, leg.straight)]
        if n + 1 == len(legs) or legs[n + 1].shift != leg.shift:
            home = leg.round.laid.nodes
            back = int(np.flatnonzero(home[:-1] == leg.last)[0])
            straight = bool(leg.round.laid.straight[back, -1])
            metres = float(leg.round.laid.apart_m[back, -1])
            ends.append((None, leg.last, int(home[-1]), metres, straight))  # type: ignore[arg-type]
        for number, first, last, metres, straight in ends:
            if metres < _SAME_M:
                continue
            line = way_between(ground, ways[id(leg.round)], first, last, at_most_m=metres)
            rows.append(
                {
                    "shift": leg.shift,
                    "leg": number,
                    "by": "straight" if straight else ground.by,
                    "length_m": metres,
                    "geometry": line,
                }
            )
    return placed(SURVEY_PATHS, rows, crs)


def shifts_table(
    shifts: Sequence[Shift],
    legs: Sequence[Leg],
    points_on: Callable[[Piece], Sequence[Any]],
    *,
    looked_for_l_s: float,
) -> pd.DataFrame:
    """Table SURVEY_SHIFTS."""
    rows, passed = [], 0.0
    for n, shift in enumerate(shifts):
        own = [leg for leg in legs if leg.shift == n + 1]
        pieces = [shift.round.pieces[t >> 1] for t in shift.tokens]
        passed += shift.flow_l_s
        rows.append(
            {
                "shift": n + 1,
                "cell_ids": ", ".join(natural(p.line.cell_id for p in pieces)),
                "start": shift.round.start.said,
                "legs_count": len(own),
                "searched_m": sum(p.length_m for p in pieces),
                "walked_m": shift.round.walked_m([shift.tokens]),
                "points_count": sum(len(points_on(p)) for p in pieces),
                "work_h": shift.work_min / 60,
                "fits": shift.work_min <= shift.round.pace.shift_min + 1e-6,
                "expected_flow_l_s": shift.flow_l_s,
                "cumulative_share": passed / looked_for_l_s if looked_for_l_s > 0 else 0.0,
            }
        )
    return pd.DataFrame(rows)[list(SURVEY_SHIFTS.names())] if rows else empty(SURVEY_SHIFTS)


def rounds_table(rounds: Sequence[Round]) -> pd.DataFrame:
    """Table SURVEY_ROUNDS."""
    rows = [
        {
            "cell_ids": ", ".join(natural(p.line.cell_id for p in each.pieces)),
            "order": order,
            "shifts_count": len(shifts),
            "searched_m": sum(p.length_m for p in each.pieces),
            "walked_m": each.walked_m(shifts),
            "work_h": each.work_h(shifts),
            "found_h": each.found_h(shifts),
        }
        for each in rounds
        for order, shifts in (
            ("shortest", each.shortest),
            ("soonest", each.soonest),
            ("by_density", each.by_density),
        )
    ]
    return pd.DataFrame(rows)[list(SURVEY_ROUNDS.names())] if rows else empty(SURVEY_ROUNDS)


def _soonest_places(legs: Sequence[Leg]) -> Any:
    """Where each leg's first piece comes in the soonest order of its round; rounds one after
    another as their first shifts come."""
    turn: dict[int, int] = {}
    for leg in legs:
        turn.setdefault(id(leg.round), len(turn))
    places = []
    for leg in legs:
        order = np.concatenate(leg.round.soonest) >> 1
        first = int(np.flatnonzero(np.isin(order, leg.numbers))[0])
        places.append(turn[id(leg.round)] * 1_000_000 + first)
    return np.array(places)


def _ranks(values: Any) -> Any:
    """1, 2, ... by value, ties in their order."""
    rank = np.empty(len(values), dtype=int)
    rank[np.argsort(values, kind="stable")] = np.arange(1, len(values) + 1)
    return rank
