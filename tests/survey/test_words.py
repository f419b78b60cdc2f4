"""Tests of `district.survey.words`."""

from __future__ import annotations

from district.settings import Settings
from district.survey import SurveyWalk
from district.survey.words import basis_of, walk_in_words


def test_the_walk_in_sentences(walk: SurveyWalk) -> None:
    first, passes, sooner, depot = walk.said
    assert first.startswith("1 shift on foot, about 1.3 h: 410 m to search on 5 stretches")
    assert "88 % of the flow" in passes
    assert "soonest" in sooner
    assert "No depot is told" in depot
    assert len(walk_in_words(walk.legs, walk.shifts, walk.rounds, depot=True)) == 3
    nothing = walk_in_words(walk.legs.iloc[:0], walk.shifts, walk.rounds, depot=True)
    assert nothing == ("There is nothing to walk: no leak is looked for in these zones.",)


def test_assumptions_are_called_so_and_limits_are_told(walk: SurveyWalk) -> None:
    assumed = " ".join(walk.basis.assumptions)
    assert "Paces are assumptions" in assumed
    assert "250 m of cast iron, 50 m of PVC (common practice, no source)" in assumed
    assert "at least 21 m" in assumed  # Thornton, Sturm & Kunkel 2008, p. 268 (seen): 30 psi
    assert any("straight line" in line for line in walk.basis.limits)
    late = walk.shifts.assign(fits=False)
    found = basis_of(walk.legs, late, [], Settings(), shift_h=1.0, by="streets")
    assert any("longer than 1 h" in line for line in found.limits)
    assert any("layer of streets" in line for line in found.assumptions)
