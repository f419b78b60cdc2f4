"""Rows of SET_UPS, and what of the pieces no two fittings enclose."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd

from district.network import Network
from district.schema.survey_tables import SET_UPS
from district.survey.ground import ground_of_pipes, way_between, with_places
from district.survey.leg_rows import placed
from district.survey.legs import Leg
from district.survey.pieces import Piece
from district.survey.set_ups import (
    Hearing,
    SetUp,
    delay_at,
    materials_of,
    set_ups_of,
    speed_of,
)
from district.words import brief, missing

_ALONG = ("along_m", "along_m_low", "along_m_high")
_NEAR_M = 3.0
"""A leak nearer to a sensor than this is hard to tell from noise at it: keep it near mid-span
(Thornton, Sturm & Kunkel 2008). The distance is an assumption."""
Bare = tuple[str, float, float]
"""Stretch, from and to in metres along it."""


def set_ups_table(
    network: Network,
    hearing: Hearing,
    pieces: Sequence[Piece],
    legs: Sequence[Leg],
    stretches: pd.DataFrame,
) -> tuple[gpd.GeoDataFrame, list[Bare]]:
    """Table SET_UPS in order of the walk, and what no set-up encloses.

    Parameters: `pieces` before they were cut, `stretches` table STRETCHES.
    """
    known = stretches.set_index("stretch_id")
    bare: list[Bare] = []
    found: list[tuple[int, SetUp]] = []
    for piece in pieces:
        own, left = set_ups_of(hearing, piece)
        bare += [(piece.line.stretch_id, *each) for each in left]
        found += [(_leg_of(legs, each), each) for each in own]
    found.sort(key=lambda f: (f[0], f[1].from_m))
    drawn = _drawn(network, hearing, [each for _, each in found])
    rows = [
        {"set_up": n + 1, "leg": leg, **_row(hearing, each, known), "geometry": line}
        for n, ((leg, each), line) in enumerate(zip(found, drawn, strict=True))
    ]
    return placed(SET_UPS, rows, network.pipes.crs), bare


def _leg_of(legs: Sequence[Leg], found: SetUp) -> int:
    on = [
        n + 1
        for n, leg in enumerate(legs)
        if leg.piece.line is found.piece.line
        and leg.piece.to_m > found.from_m + 1e-6
        and leg.piece.from_m < found.to_m - 1e-6
    ]
    return min(on)


def _row(hearing: Hearing, found: SetUp, known: pd.DataFrame) -> dict[str, Any]:
    fittings, line = hearing.fittings, found.piece.line
    told = known.loc[line.stretch_id]
    likeliest = [_within(told[name], found) for name in _ALONG]
    speed, spread = speed_of(hearing, found)
    direct = missing(found.shorter_m)
    delay = delay_at(hearing, found, likeliest[0])
    at_ends = [delay_at(hearing, found, m).middle_ms for m in (found.from_m, found.to_m)]
    nowhere = float("nan")
    return {
        "cell_id": line.cell_id,
        "stretch_id": line.stretch_id,
        "from_m": found.from_m,
        "to_m": found.to_m,
        "first_id": str(fittings.name[found.first]),
        "first_kind": str(fittings.kind[found.first]),
        "other_id": str(fittings.name[found.other]),
        "other_kind": str(fittings.kind[found.other]),
        "between_m": found.between_m,
        "materials": ", ".join(materials_of(hearing, found)),
        "speed_m_s": speed,
        "speed_m_s_low": speed * (1 - spread),
        "speed_m_s_high": speed * (1 + spread),
        **{
            f"likeliest_m{end}": along - found.first_m
            for end, along in zip(("", "_low", "_high"), likeliest, strict=True)
        },
        "delay_ms": delay.middle_ms if direct else nowhere,
        "delay_ms_low": delay.low_ms if direct else nowhere,
        "delay_ms_high": delay.high_ms if direct else nowhere,
        "delay_from_ms": at_ends[0] if direct else nowhere,
        "delay_to_ms": at_ends[1] if direct else nowhere,
        "most_apart_m": found.largest_m,
        "too_far": found.between_m > found.largest_m,
        "said": _said(hearing, found, likeliest[0]),
    }


def _within(along_m: Any, found: SetUp) -> float:
    """A place along the stretch, brought onto what the set-up is for; its middle if not told."""
    middle = (found.from_m + found.to_m) / 2
    return middle if missing(along_m) else float(np.clip(along_m, found.from_m, found.to_m))


def _said(hearing: Hearing, found: SetUp, likeliest_m: float) -> str:
    fittings, said = hearing.fittings, []
    if found.between_m > found.largest_m:
        said.append(
            f"Farther apart than the {brief(found.largest_m)} m over which such pipes carry a "
            "usual leak: listen on the ground between them too."
        )
    if not missing(found.shorter_m):
        said.append(
            f"Another way along the pipes between them is shorter ({brief(found.shorter_m)} m): "
            "sound comes by both, so no delay is told; set them nearer together if you can."
        )
    to_first = likeliest_m - found.first_m
    if min(to_first, found.between_m - to_first) < _NEAR_M:
        near = found.first if to_first < found.between_m / 2 else found.other
        said.append(
            f"The likeliest place is within {_NEAR_M:g} m of {fittings.name[near]}: noise of the "
            "fitting itself looks the same there. Listen at it, and on the ground beside it."
        )
    on_service = [n for n in (found.first, found.other) if not fittings.on_main[n]]
    if on_service:
        names = " and ".join(str(fittings.name[n]) for n in on_service)
        said.append(f"On a service at {names}: add its length from the main to the sensor.")
    return " ".join(said)


def _drawn(network: Network, hearing: Hearing, found: Sequence[SetUp]) -> list[Any]:
    """The pipe between the sensors of each set-up as a line, from the first on."""
    if not found:
        return []
    fittings = hearing.fittings
    ends = np.array([n for each in found for n in (each.first, each.other)])
    ground, nodes = with_places(ground_of_pipes(network), fittings.part[ends], fittings.share[ends])
    ways = ground.ways()
    return [
        way_between(ground, ways, int(nodes[2 * k]), int(nodes[2 * k + 1]), at_most_m=np.inf)
        for k in range(len(found))
    ]
