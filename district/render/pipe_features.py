"""GeoJSON features of the stretches: where the leak likely is, and what to walk of them."""

from __future__ import annotations

from typing import Any

from district.render import ahead, palette, popups
from district.render.along import likeliest_place, piece_to_walk, starts_in_words
from district.render.features import Feature, degrees, feature, point_feature, zone_names
from district.render.stretches import drawn_stretches, place_along, walked_pieces
from district.render.text import escape
from district.render.valve_words import shut_of_stretches
from district.results import DistrictReport
from district.words import EMPTY, true


def pipe_features(report: DistrictReport) -> tuple[list[Feature], list[Feature], list[Feature]]:
    """Lines to see and to touch, a stretch each; the dark casings of the pieces to walk first; and
    the likeliest place on those of them where readings tell it."""
    names, drawn = zone_names(report), drawn_stretches(report)
    starts, reach = (
        starts_in_words(report, drawn),
        popups.by_id(ahead.by_stretch(report), "stretch_id"),
    )
    shut = shut_of_stretches(report)
    seen: list[tuple[int, Feature]] = []
    touched, places = [], []
    grades: dict[Any, int] = {}
    for at, row in degrees(drawn).iterrows():
        # Where nothing is looked for, a colour would send a crew out for nothing.
        dense = row["probability_per_100_m_share"] if row["searched"] else None
        grade = grades[at] = palette.PROBABILITY.place(dense)
        share = popups.estimate(row, "probability_share")
        said = share if row["searched"] and share != EMPTY else "not searched now"
        start = starts.get(str(row["stretch_id"]), "")
        body = popups.pipe_card(
            row,
            names.get(str(row["cell_id"]), str(row["cell_id"])),
            walk=piece_to_walk(row, start),
            likeliest=likeliest_place(row, start),
            reach=reach.get(str(row["stretch_id"]), {}),
            shut=shut.get(str(row["stretch_id"]), ()),
        )
        tip = f"{escape(row['stretch_id'])}: {escape(said)}"
        seen.append((grade, feature(row, {"role": "line", "grade": grade})))
        touched.append(feature(row, {"role": "touch", "tip": tip, "popup": body}))
    chosen = drawn[drawn["in_set"].map(true).astype(bool)]
    for _, row in degrees(place_along(chosen)).iterrows():
        start = starts.get(str(row["stretch_id"]), "")
        likeliest = likeliest_place(row, start)
        said = f"on {row['stretch_id']}, {likeliest}"
        body = popups.card(f"Stretch {row['stretch_id']}", [("Likeliest place", likeliest)])
        places.append(point_feature(row, "Likeliest place", said, "likeliest", body))
    cased = degrees(walked_pieces(chosen))
    # Likelier stretches are drawn later, so over the others; the wide invisible lines come first.
    ordered = [line for _, line in sorted(seen, key=lambda pair: pair[0])]
    # All casings beneath all gaps, so that crossing stretches do not cut each other.
    casings = [
        feature(row, {"role": role, "grade": grades[at]})
        for role in ("casing", "gap")
        for at, row in cased.iterrows()
    ]
    return [*touched, *ordered], casings, places
