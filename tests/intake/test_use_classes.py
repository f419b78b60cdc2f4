from __future__ import annotations

import pandas as pd

from district.intake.use_classes import own_classes


def test_classes_in_other_letters_and_words() -> None:
    said = pd.Series(
        ["Commercial", "RESIDENTIAL", "Haushalt", "campus", "mill", None], dtype=object
    )
    found = own_classes(said, ["household", "commercial", "Campus"])
    assert found.tolist()[:5] == ["commercial", "household", "household", "Campus", "mill"]
    assert found.isna().tolist() == [False] * 5 + [True]


def test_a_class_of_ones_own_comes_first() -> None:
    said = pd.Series(["Residential", "residential"])
    assert own_classes(said, ["household", "Residential"]).tolist() == ["Residential"] * 2
