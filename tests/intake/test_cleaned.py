from __future__ import annotations

import json

import pytest

from district.errors import Finding
from district.intake.cleaned import Told, joined, told_of
from district.intake.tallies import Tally

TOLD = Told(
    (Finding("note", "a.csv", "row 2", got="é", count=3),),
    (("M1", Finding("warning", "", got="x")),),
    (("M1", Tally("back", 2)),),
    (("a.csv", "M1", 1, 2),),
)


def test_what_is_told_comes_back_from_text() -> None:
    back = told_of(json.loads(json.dumps(TOLD.as_json())))
    assert repr(back) == repr(TOLD)


@pytest.mark.parametrize("said", [{}, {"findings": [{"colour": 1}]}])
def test_what_another_version_told_is_refused(said: object) -> None:
    with pytest.raises((KeyError, TypeError)):
        told_of(said)


def test_parts_are_told_in_their_order() -> None:
    other = Told(disorder=(("b.csv", "M2", 1, 1),))
    both = joined([TOLD, other])
    assert both.findings == TOLD.findings
    assert [d[0] for d in both.disorder] == ["a.csv", "b.csv"]
