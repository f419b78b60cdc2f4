from __future__ import annotations

from pathlib import Path

from district.intake.proposal import LayerGuess, Proposal


def test_tables_are_those_for_which_a_file_was_found() -> None:
    pipes = LayerGuess("pipes", "a.shp", "", "sure", "")
    works = LayerGuess("works", "b.csv", "", "likely", "")
    assert Proposal(Path(), (pipes,), (works,)).tables() == ("pipes", "works")
    assert Proposal(Path()).tables() == ()
