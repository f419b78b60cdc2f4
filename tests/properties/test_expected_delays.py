"""The delay that a set-up is told to expect, measured: the evidence finds the leak where it was."""

from __future__ import annotations

from datetime import date

import numpy as np

from district.locate.correlator import correlation_evidence
from district.locate.prior import leak_prior
from district.locate.scene import Scene
from district.locate.spots import Sought, spots_of
from district.schema import empty
from district.schema.field_records import CORRELATIONS
from district.schema.inputs import BREAKS
from district.settings import Settings
from tests.locate.field_scene import rows
from tests.survey.conftest import TOLD, scene_of
from tests.survey.scenes import ladder

LEAK = Sought("E-Z-1", "Z", "leak", 1.0, 0.8, 1.2, *(date(2025, 10, d) for d in (20, 18, 23)))


def test_an_expected_delay_leads_back_to_the_likeliest_place() -> None:
    own = scene_of(ladder(), TOLD)
    spots = spots_of(own.network, leak_prior(own.network, empty(BREAKS), year=2025))
    here = spots.cell_id == "Z"
    scene = Scene(own.network, spots, here, LEAK, Settings(), date(2025, 11, 30))
    found = own.walk().set_ups
    assert len(found) >= 3
    for row in found.itertuples():
        heard = {"date": "2025-11-05", "first_id": row.first_id, "other_id": row.other_id}
        (evidence,) = correlation_evidence(
            scene, rows(CORRELATIONS, {**heard, "delay_ms": row.delay_ms})
        )
        assert evidence.used
        best = np.argmax(evidence.log_likelihood[here])
        place = row.geometry.interpolate(row.likeliest_m)
        away = np.hypot(spots.x_m[here][best] - place.x, spots.y_m[here][best] - place.y)
        assert away <= 10.0  # the spots are 10 m apart
