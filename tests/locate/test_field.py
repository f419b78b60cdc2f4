"""Tests of `district.locate.field`."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from district.locate.field import field_evidence
from district.locate.spots import Seen
from district.schema import empty
from district.schema.field_records import CORRELATIONS, SIGHTINGS, STEP_TESTS, SURVEYS
from district.schema.stored import ACOUSTIC_NIGHTS, ALARMS
from tests.locate.field_scene import LEAK, LONDON, rows, scene_of

SCENE = scene_of()
NOTHING = Seen(
    *(empty(t) for t in (SURVEYS, STEP_TESTS, CORRELATIONS, SIGHTINGS, ALARMS, ACOUSTIC_NIGHTS))
)


@pytest.fixture
def seen() -> Seen:
    night = pd.date_range("2025-09-20", "2025-11-20")
    steps = [(None, 1.7), ("V2", 1.65), ("V1", 0.5)]
    return Seen(
        surveys=rows(SURVEYS, {"date": "2025-11-02", "pipe_id": "P3"}),
        step_tests=rows(
            STEP_TESTS,
            *(
                {"test_id": "T", "time": f"2025-11-03T01:{n}0Z", "valve_id": v, "flow_l_s": q}
                for n, (v, q) in enumerate(steps)
            ),
        ),
        correlations=rows(
            CORRELATIONS,
            {"date": "2025-11-05", "first_id": "V1", "other_id": "V2", "delay_ms": 0.0},
        ),
        sightings=rows(SIGHTINGS, {"time": "2025-11-06T10:00Z", "place_id": "c2"}),
        alarms=pd.DataFrame(
            {
                "device_id": ["W1"],
                "start_utc": pd.to_datetime(["2025-11-01"], utc=True),
                "end_utc": pd.to_datetime(["2025-11-05"], utc=True),
                "readings_count": [9],
            }
        ),
        acoustic_nights=pd.DataFrame(
            {
                "device_id": "X1",
                "night": night,
                "level_db": np.where(night >= "2025-10-20", 45.0, 20.0) + 0.1 * (night.day % 3),
                "readings_count": 8,
            }
        ),
    )


def test_all_kinds_in_their_order(seen: Seen) -> None:
    told = field_evidence(SCENE.network, SCENE.spots, LEAK, seen, settings=LONDON)
    kinds = ["step_test", "correlator", "acoustic", "wet_floor", "sighting", "survey"]
    assert [e.kind for e in told] == kinds
    assert all(e.used and e.said.endswith(".") and e.sought_id == "A-1" for e in told)
    assert all(np.isfinite(e.log_likelihood).all() for e in told)
    total = np.sum([e.log_likelihood for e in told], axis=0)
    total[~SCENE.own] = -np.inf
    assert SCENE.spots.x_m[total.argmax()] == pytest.approx(300, abs=30)


def test_the_order_of_rows_changes_nothing_and_nothing_is_written_to(seen: Seen) -> None:
    before = {name: table.copy() for name, table in vars(seen).items()}
    told = field_evidence(SCENE.network, SCENE.spots, LEAK, seen, settings=LONDON)
    turned = Seen(**{name: table.iloc[::-1] for name, table in vars(seen).items()})
    again = field_evidence(SCENE.network, SCENE.spots, LEAK, turned, settings=LONDON)
    assert [e.said for e in told] == [e.said for e in again]
    for one, other in zip(told, again, strict=True):
        np.testing.assert_allclose(one.log_likelihood, other.log_likelihood)
    for name, table in vars(seen).items():
        pd.testing.assert_frame_equal(table, before[name])


def test_nothing_seen_and_no_such_zone(seen: Seen) -> None:
    assert field_evidence(SCENE.network, SCENE.spots, LEAK, NOTHING, settings=LONDON) == []
    elsewhere = replace(LEAK, cell_id="nowhere")
    assert field_evidence(SCENE.network, SCENE.spots, elsewhere, seen, settings=LONDON) == []


def test_an_excess_without_start_takes_what_is_of_the_last_year(seen: Seen) -> None:
    excess = replace(LEAK, kind="excess", start=None, start_low=None, start_high=None)
    told = field_evidence(SCENE.network, SCENE.spots, excess, seen, settings=LONDON)
    assert {e.kind: e.used for e in told}["acoustic"] is False
    assert sum(e.used for e in told) == len(told) - 1
