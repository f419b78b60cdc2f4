"""Tests of `district.locate.assumed`."""

from __future__ import annotations

import pytest

from district.locate.assumed import field_assumptions
from district.schema.located import EVIDENCE_KINDS

OF_THE_OFFICE = ("prior", "size", "pressure")


def test_each_kind_from_the_field_has_its_sentence_in_order() -> None:
    every = field_assumptions(EVIDENCE_KINDS)
    kinds = [kind for kind in EVIDENCE_KINDS if kind not in OF_THE_OFFICE]
    assert every == [said for kind in kinds for said in field_assumptions({kind})]
    assert len(every) == len(set(every)) == len(kinds)
    assert field_assumptions(OF_THE_OFFICE) == []


@pytest.mark.parametrize(
    ("kind", "figure"),
    [
        ("step_test", "in 10 % of cases"),
        ("correlator", "something else in 10 % of cases"),
        ("acoustic", "0.1 dB of it in cast iron, 0.5 dB in PVC and 0.6 dB in polyethylene"),
        ("wet_floor", "in 50 % of cases, in 15 % where it was wet again"),
        ("sighting", "20 % of them have nothing to do with the leak"),
        ("survey", "listening 70 % and 40 %, ground microphone 75 % and 50 %"),
    ],
)
def test_it_tells_the_figures_that_count_and_their_status(kind: str, figure: str) -> None:
    (said,) = field_assumptions({kind})
    assert figure in said.replace("\u00a0", " ")
    assert "ssumed" in said or "common practice" in said
