"""Tests of `district.schema.field_records`."""

from __future__ import annotations

import pandas as pd
import pytest

from district.schema.columns import check
from district.schema.field_records import CORRELATIONS, SIGHTINGS, STEP_TESTS, SURVEYS
from district.schema.inputs import RECORDS


def test_they_are_records() -> None:
    assert RECORDS[-4:] == (SURVEYS, STEP_TESTS, CORRELATIONS, SIGHTINGS)


@pytest.mark.parametrize(
    ("table", "row", "filled"),
    [
        (SURVEYS, {"date": "2025-11-02", "pipe_id": "P1"}, {"method": "listening", "found": False}),
        (
            CORRELATIONS,
            {"date": "2025-11-02", "first_id": "V1", "other_id": "V2", "delay_ms": 24.0},
            {"spread_ms": 2.0},
        ),
        (SIGHTINGS, {"time": "2025-11-02T10:00Z", "place_id": "P1"}, {"what": "wet_ground"}),
    ],
)
def test_what_is_not_said_is_filled(
    table: object, row: dict[str, object], filled: dict[str, object]
) -> None:
    tidy, findings = check(table, pd.DataFrame([row]), source="x")  # type: ignore[arg-type]
    assert findings == ()
    assert tidy.iloc[0][list(filled)].to_dict() == filled
