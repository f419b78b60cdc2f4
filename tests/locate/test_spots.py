"""Tests of `district.locate.spots`."""

from __future__ import annotations

import numpy as np

from district.locate.spots import Evidence


def test_evidence_counts_unless_said_otherwise() -> None:
    assert Evidence("E1", "survey", "walked, nothing found", np.zeros(3)).used
