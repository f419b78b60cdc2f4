"""Shapes that cannot be meant as they are drawn: outlines of zones, and pipes across the world."""

from __future__ import annotations

import shapely

from district.check.wording import EACH, file_of
from district.errors import Finding
from district.results import Inputs
from district.words import brief, natural_key, percent, places, plural

_SLIVER_SHARE = 0.02
"""Outlines are drawn by hand: that neighbours overlap by a little means nothing."""
_WHOLE_SHARE = 0.98
"""A zone drawn wholly inside another is one fed through it."""
_ENDLESS_M = 50_000.0
"""Longer than any stretch between two fittings: a corner lies elsewhere on the earth."""


def check_shapes(inputs: Inputs) -> list[Finding]:
    """Outlines that overlap, and pipes too long for a district."""
    return [*_endless(inputs), *_overlapping(inputs)]


def _endless(inputs: Inputs) -> list[Finding]:
    length_m = inputs.pipes.geometry.length
    long = length_m > _ENDLESS_M
    if not long.any():
        return []
    return [
        Finding(
            "warning",
            file_of(inputs, "pipes"),
            places("pipe", inputs.pipes.loc[long, "pipe_id"]),
            "geometry",
            got=f"a line of {brief(length_m.max() / 1000)} km",
            expected=f"less than {_ENDLESS_M / 1000:g} km from one end of a pipe to the other",
            remedy="Correct the corner that lies astray; figures by length are wrong until then",
        )
    ]


def _overlapping(inputs: Inputs) -> list[Finding]:
    pairs = _pairs(inputs)
    source = file_of(inputs, "zones")
    expected = "outlines side by side, or one wholly inside the other"
    found = [
        Finding(
            "warning",
            source,
            f"zones {first} and {second}",
            "geometry",
            got="the same outline twice"
            if share >= _WHOLE_SHARE
            else f"outlines that overlap by {percent(share, decimals=0)} of the smaller",
            expected=expected,
            remedy="Correct the outlines; until then pipes in both count for the smaller",
        )
        for first, second, share in pairs[:EACH]
    ]
    if len(pairs) > EACH:
        found.append(
            Finding(
                "warning",
                source,
                column="geometry",
                got=f"{plural(len(pairs) - EACH, 'more pair')} of zones that overlap",
                expected=expected,
                remedy="Correct the outlines",
            )
        )
    return found


def _pairs(inputs: Inputs) -> list[tuple[str, str, float]]:
    """Zones that overlap, and by what share of the smaller."""
    placed = inputs.zones[inputs.zones.geometry.notna()]
    shapes = shapely.make_valid(placed.geometry.to_numpy())
    ids = placed["zone_id"].astype(str).to_numpy()
    area = shapely.area(shapes)
    pairs = []
    for one, two in shapely.STRtree(shapes).query(shapes, predicate="intersects").T:
        small, large = sorted((area[one], area[two]))
        if one >= two or not small > 0:
            continue
        shared = float(shapely.area(shapely.intersection(shapes[one], shapes[two])))
        within = shared >= _WHOLE_SHARE * small and shared < _WHOLE_SHARE * large
        if shared > _SLIVER_SHARE * small and not within:
            first, second = sorted([ids[one], ids[two]], key=natural_key)
            pairs.append((first, second, shared / small))
    return sorted(pairs, key=lambda p: (natural_key(p[0]), natural_key(p[1])))
