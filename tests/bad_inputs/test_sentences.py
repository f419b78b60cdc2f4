from __future__ import annotations

from pathlib import Path

import pytest

from district import intake
from district.errors import Finding, InputError
from district.settings import read_settings
from tests.bad_inputs.cases import CASES, Case
from tests.bad_inputs.kind_cases import CASES as KIND_CASES
from tests.bad_inputs.layer_cases import CASES as LAYER_CASES
from tests.bad_inputs.table_cases import CASES as TABLE_CASES

ALL = (*CASES, *KIND_CASES, *LAYER_CASES, *TABLE_CASES)


def findings(folder: Path) -> tuple[Finding, ...]:
    try:
        settings = read_settings(folder)
    except InputError as found:
        return found.findings
    inputs = intake.read_layers(folder, settings)
    return inputs.findings + intake.read_readings(folder, settings, inputs).findings


def test_the_small_folder_has_no_flaw(small_folder: Path) -> None:
    assert findings(small_folder) == ()


@pytest.mark.parametrize("case", ALL, ids=[c.name for c in ALL])
def test_the_exact_sentence_is_among_the_findings(case: Case, small_folder: Path) -> None:
    case.breaker(small_folder)
    assert case.sentence in [f.sentence() for f in findings(small_folder)]


def test_names_of_cases_differ() -> None:
    assert len({c.name for c in ALL}) == len(ALL) >= 100
