"""Ids that stand for two things at once, or that nobody can read."""

from __future__ import annotations

import pandas as pd

from district.check.wording import file_of, filled
from district.errors import Finding, visible
from district.results import Inputs
from district.schema.inputs import LAYERS
from district.words import natural, places

_LONGEST = 200
"""No id of a register of assets comes near; text of this length has slipped into the column."""
_SHOWN = 40
_PLACES = {"zones": "zone", "pipes": "pipe", "meters": "meter", "valves": "valve"}
"""Layers whose ids a work may name as its place."""


def check_ids(inputs: Inputs) -> list[Finding]:
    """Sensors called like a meter, whose readings cannot be told apart; ids that cannot be read;
    works at a place whose id two layers have."""
    meters = set(filled(inputs.meters["meter_id"]))
    both = natural(meters & set(filled(inputs.sensors["sensor_id"])))
    found = []
    if both:
        found.append(
            Finding(
                "error",
                file_of(inputs, "sensors"),
                places("sensor", both),
                "sensor_id",
                got=f"{'an id' if len(both) == 1 else 'ids'} that "
                f"{places('meter', both)} of {file_of(inputs, 'meters')} "
                f"{'has' if len(both) == 1 else 'have'} too",
                expected="ids of their own, as readings are told apart by them",
                remedy="Give the sensor another id there and in its readings",
            )
        )
    return found + _illegible(inputs) + _places(inputs)


def _illegible(inputs: Inputs) -> list[Finding]:
    found = []
    for table in LAYERS:
        ids = filled(getattr(inputs, table.name)[table.key[0]])
        word = table.name.removesuffix("s")
        hidden = ids[ids.map(visible) != ids]
        endless = ids[ids.str.len() > _LONGEST]
        for bad, got in ((hidden, "a sign that cannot be shown"), (endless, "a very long text")):
            if not bad.empty:
                found.append(
                    Finding(
                        "warning",
                        file_of(inputs, table.name),
                        places(word, bad.map(visible).str.slice(0, _SHOWN)),
                        table.key[0],
                        got=got,
                        expected=f"ids of at most {_LONGEST} signs that can be read and typed",
                        remedy="Correct the ids, and in readings and records that name them",
                    )
                )
    return found


def _places(inputs: Inputs) -> list[Finding]:
    named = pd.concat(
        [
            pd.DataFrame({"id": filled(getattr(inputs, layer)[f"{word}_id"]), "word": word})
            for layer, word in _PLACES.items()
        ]
    ).drop_duplicates()
    several = named[named["id"].duplicated(keep=False)].groupby("id")["word"].agg(list)
    return [
        Finding(
            "warning",
            file_of(inputs, "works"),
            column="place_id",
            got=f'"{name}", which is a {" and a ".join(several[name])}',
            expected="an id that only one layer has",
            remedy="Give one of the two another id, so that the work is laid to the right one",
        )
        for name in natural(set(filled(inputs.works["place_id"])) & set(several.index))
    ]
