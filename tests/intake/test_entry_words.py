from __future__ import annotations

import pytest

from district.intake.choice_words import understood
from district.intake.entry_words import ENTRY_WORDS
from district.schema.entry_forms import ENTRY_FORM
from district.schema.field_records import SIGHTINGS, SURVEYS


@pytest.mark.parametrize(
    ("column", "text", "meant"),
    [
        ("record", "No leak", "nothing_found"),
        ("record", "Repaired", "repair"),
        ("leak_kind", "Ferrule", "service"),
        ("leak_kind", "hydrant", "fitting"),
        ("state", "seized", "does_not_close"),
        ("method", "geophone", "ground_microphone"),
        ("what", "damp patch", "wet_ground"),
    ],
)
def test_words_of_crews(column: str, text: str, meant: str) -> None:
    assert understood("entries", column, text) == meant


def test_every_choice_is_one_of_the_form_and_no_word_means_two() -> None:
    for (table, column), words in ENTRY_WORDS.items():
        declared = {"entries": ENTRY_FORM, "surveys": SURVEYS, "sightings": SIGHTINGS}[table]
        assert set(words) == set(declared[column].choices)
        spelt = [word for known in words.values() for word in known]
        assert len(spelt) == len(set(spelt))
