"""Verdicts on repairs and their sentences, by hand."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.detect.repair_words import Repaired, said, verdict
from district.schema.event_tables import REPAIR_VERDICTS


def repaired(**changes: Any) -> Repaired:
    made: dict[str, Any] = {
        "before_count": 28,
        "after_count": 14,
        "more_nights": 0,
        "rise_l_s": 0.4,
        "rise_error_l_s": 0.01,
        "drop_l_s": 0.4,
        "drop_error_l_s": 0.02,
        "rest_l_s": 0.0,
        "rest_error_l_s": 0.02,
        "flows_count": 1,
        "eased_l_s": 0.4,
    }
    return Repaired(**{**made, **changes})


NONE = {"rise_l_s": np.nan, "rise_error_l_s": np.nan, "rest_l_s": np.nan, "flows_count": 0}
CASES = [
    (repaired(), "verified", "fell by 0.4 (0.36 to 0.44) L/s: the rise of 0.4 L/s is gone"),
    (repaired(drop_l_s=0.25, rest_l_s=0.15), "partly", "0.15 (0.11 to 0.19) L/s of the rise is"),
    (repaired(drop_l_s=0.37, rest_l_s=0.03), "verified", "the repair is verified"),
    (repaired(drop_l_s=0.03, rest_l_s=0.37), "not_seen", "no drop of the night flow of zone V1"),
    (repaired(drop_l_s=-0.1, rest_l_s=0.5), "not_seen", "though 0.4 L/s ran there"),
    (
        repaired(rise_l_s=0.7, rest_l_s=0.3, flows_count=2),
        "another_leak",
        "that leak is mended, but 0.3 (0.26 to 0.34) L/s of another rise goes on",
    ),
    (
        repaired(following=pd.Timestamp("2031-03-09"), following_l_s=0.25),
        "another_leak",
        "but on 2031-03-09 it rose again by 0.25 L/s",
    ),
    (repaired(more_nights=3, after_count=1), "too_early", "so far down by 0.4 L/s: wait for 3"),
    (
        repaired(more_nights=1, after_count=0, drop_l_s=np.nan),
        "too_early",
        "it is too early to tell at zone V1: wait for 1 more night",
    ),
    (repaired(**NONE), "verified", "though no event was open there: the repair shows"),
    (repaired(drop_l_s=0.01, **NONE), "not_seen", "change 0.01 (-0.029 to 0.049) L/s)"),
    (repaired(before_count=0, drop_l_s=np.nan), "not_seen", "there is no sound night before it"),
    (repaired(after_count=0, drop_l_s=np.nan), "not_seen", "there is no sound night after it"),
]


@pytest.mark.parametrize(("found", "expected", "words"), CASES)
def test_verdicts_and_sentences(found: Repaired, expected: str, words: str) -> None:
    told = verdict(found, smallest_l_s=0.02)
    assert told == expected
    sentence = said(found, told=told, repair="a repair at P1 on 2031-03-01", place="zone V1")
    assert sentence.startswith("After a repair at P1 on 2031-03-01 ")
    assert words in sentence


def test_every_verdict_is_declared_and_occurs() -> None:
    assert {expected for _, expected, _ in CASES} == set(REPAIR_VERDICTS)


def test_what_is_below_the_smallest_is_not_told() -> None:
    assert verdict(repaired(drop_l_s=0.05), smallest_l_s=0.02) == "verified"
    assert verdict(repaired(drop_l_s=0.05), smallest_l_s=0.1) == "not_seen"
