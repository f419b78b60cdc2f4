"""Words that tell of users who must be asked first."""

from __future__ import annotations

import pytest

from district.schema.use_words import FIRE, MEDICAL, PROCESS, tells_of


@pytest.mark.parametrize(
    ("use_class", "words"),
    [
        ("General Hospital", MEDICAL),
        ("dialysis", MEDICAL),
        ("Sprinkler main", FIRE),
        ("fire hydrant", FIRE),
        ("laboratory", PROCESS),
        ("Industrial", PROCESS),
    ],
)
def test_a_class_tells_by_a_part_of_it(use_class: str, words: tuple[str, ...]) -> None:
    assert tells_of(use_class, words)


@pytest.mark.parametrize("words", [FIRE, MEDICAL, PROCESS])
def test_households_and_offices_tell_of_none(words: tuple[str, ...]) -> None:
    assert not any(tells_of(c, words) for c in ("household", "office", "shop", "school", ""))
