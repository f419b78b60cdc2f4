"""Each leak looked for: what it is, how far to walk, and what told it, in words."""

from __future__ import annotations

from typing import Any

import geopandas as gpd

from district.render.along import likeliest_place, piece_to_walk, starts_in_words
from district.results import DistrictReport
from district.schema.located import EVIDENCE_WORDS
from district.words import day, figure, missing, percent, true, whole

FIRST = 5
"""Stretches shown of each leak's own walk."""
_BARE = ("prior", "size")
"""Kinds of evidence that rest on the pipes themselves."""
_MOVED = (
    (0.01, "hardly moved the answer"),
    (0.10, "moved it a little"),
    (0.30, "moved it"),
    (0.60, "moved it much"),
    (2.00, "decided it"),
)
_LEAK_WORDS = {"leak": "leak", "growing_leak": "growing leak"}


def searches(report: DistrictReport, drawn: gpd.GeoDataFrame) -> list[dict[str, Any]]:
    """The leaks looked for, largest first: sought_id, cell_id, what it is, its `sets` (rows of
    SEARCH_SETS: two where it is taken for two leaks), the `evidence` that counted and the
    `unused`, the first `stretches` of its walk, and `bare` where no reading or record tells its
    place. `drawn` as `drawn_stretches` gives it."""
    walked = stretches_in_words(report, drawn[drawn["in_set"].map(true).astype(bool)])
    return [
        {**leak, "stretches": [s for s in walked if leak["sought_id"] in s["leaks"]][:FIRST]}
        for leak in _leaks(report)
    ]


def _leaks(report: DistrictReport) -> list[dict[str, Any]]:
    """What `searches` gives, without the stretches."""
    found = report.location
    told = {str(k): part for k, part in found.evidence.groupby("sought_id", sort=False)}
    events = {str(row["event_id"]): row for _, row in report.events.events.iterrows()}
    leaks = []
    for sought_id, sets in found.search_sets.groupby("sought_id", sort=False, dropna=False):
        key = "" if missing(sought_id) else str(sought_id)
        rows = told[key].to_dict("records") if key in told else []
        counted = [_weighed(row) for row in rows if true(row["used"])]
        first = sets.iloc[0]
        leaks.append(
            {
                "sought_id": key,
                "cell_id": str(first["cell_id"]),
                "what": _what(events.get(key), first),
                "sets": sets.to_dict("records"),
                "evidence": counted,
                "unused": [row for row in map(_weighed, rows) if not true(row["used"])],
                "bare": bool(rows) and all(r["kind"] in _BARE for r in counted),
            }
        )
    return leaks


def found_in_zones(report: DistrictReport) -> dict[str, list[str]]:
    """Zone -> each leak looked for, its walk and what told its place, a sentence each."""
    said: dict[str, list[str]] = {}
    for leak in _leaks(report):
        walk = " and ".join(distance(s["set_km"]) for s in leak["sets"])
        lines = [f"{leak['what']}: walk {walk} of {distance(leak['sets'][0]['mains_km'])}"]
        if leak["bare"]:
            lines.append("no reading or record tells its place")
        lines += [
            f"{e['kind_words']} {e['moved']}: {e['said']}"
            for e in leak["evidence"]
            if e["kind"] not in _BARE
        ]
        said.setdefault(leak["cell_id"], []).extend(lines)
    return said


def moved(share: float) -> str:
    """How far a piece of evidence moved the answer, in words and per cent.

    >>> moved(0.004), moved(0.43)
    ('hardly moved the answer', 'moved it much (43 %)')
    """
    words = next(words for limit, words in _MOVED if share < limit)
    return words if share < _MOVED[0][0] else f"{words} ({percent(share, decimals=0)})"


def distance(length_km: float) -> str:
    """A walk as people say it: metres below a kilometre.

    >>> distance(0.2233), distance(1.124)
    ('223\\xa0m', '1.12\\xa0km')
    """
    if length_km < 0.9995:
        return f"{whole(1000 * length_km)}\u00a0m"
    return figure(length_km, name="length_km")


def stretches_in_words(report: DistrictReport, drawn: gpd.GeoDataFrame) -> list[dict[str, Any]]:
    """Rows of `drawn_stretches` in order of search, with the `piece` to walk and the `likeliest`
    place along it in words, and `leaks`, those it is walked for."""
    starts = starts_in_words(report, drawn)
    rows = []
    for row in drawn.dropna(subset="rank").sort_values("rank").to_dict("records"):
        start = starts.get(str(row["stretch_id"]), "")
        leaks = "" if missing(row["sought_ids"]) else str(row["sought_ids"])
        rows.append(
            {
                **row,
                "piece": piece_to_walk(row, start),
                "likeliest": likeliest_place(row, start),
                "leaks": leaks.split(", "),
            }
        )
    return rows


def _what(event: Any, first: Any) -> str:
    if event is None:
        return "excess without an event"
    return f"{_LEAK_WORDS.get(event['kind'], 'leak')} since {day(first['start'])}"


def _weighed(row: dict[str, Any]) -> dict[str, Any]:
    share = row["moved_share"]
    return {
        **row,
        "kind_words": EVIDENCE_WORDS.get(row["kind"], row["kind"]),
        "moved": "" if missing(share) else moved(float(share)),
    }
