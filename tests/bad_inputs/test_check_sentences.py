from __future__ import annotations

from pathlib import Path

import pytest

from district.pipeline import check_folder
from tests.bad_inputs.check_cases import CASES, Case
from tests.bad_inputs.field_cases import CASES as FIELD_CASES
from tests.bad_inputs.tank_cases import CASES as TANK_CASES

ALL = (*CASES, *TANK_CASES, *FIELD_CASES)


def test_the_small_folder_is_only_too_short(small_folder: Path) -> None:
    found = check_folder(small_folder)
    assert {f.severity for f in found} == {"warning"}
    assert [f.expected.partition(",")[0] for f in found] == [
        "at least 14 nights",
        "at least 14 nights",
        "at least 7",
        "at least 7",
    ]


@pytest.mark.parametrize("case", ALL, ids=[c.name for c in ALL])
def test_the_exact_sentence_is_among_the_findings(case: Case, small_folder: Path) -> None:
    case.breaker(small_folder)
    assert case.sentence in [f.sentence() for f in check_folder(small_folder)]


def test_names_of_cases_differ() -> None:
    assert len({c.name for c in ALL}) == len(ALL) >= 20
