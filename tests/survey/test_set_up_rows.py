"""Tests of `district.survey.set_up_rows`."""

from __future__ import annotations

import numpy as np
import pytest

from district.schema.survey_tables import SET_UPS
from district.survey import SurveyWalk
from tests.survey.conftest import TOLD, Scene, scene_of
from tests.survey.scenes import ladder


def test_rows_in_order_of_the_walk_with_the_delay_by_hand(walk: SurveyWalk) -> None:
    found = walk.set_ups
    assert tuple(found.columns) == SET_UPS.names()
    assert found["set_up"].tolist() == list(range(1, len(found) + 1))
    assert found["leg"].is_monotonic_increasing
    row = found.set_index("stretch_id").loc["B"]
    # 120 m to M1, 60 m to V2: 60 m at 1,285 m/s (derived from the water-hammer formula).
    assert row["delay_ms"] == pytest.approx(1000 * 60 / 1285, rel=1e-3)
    assert row["delay_from_ms"] == pytest.approx(1000 * -40 / 1285, rel=1e-3)
    assert row["delay_to_ms"] == pytest.approx(1000 * 160 / 1285, rel=1e-3)
    assert row["likeliest_m"] == pytest.approx(120.0)
    assert row["speed_m_s_low"] < row["speed_m_s"] < row["speed_m_s_high"]
    assert row.geometry.length == pytest.approx(row["between_m"])
    assert row.geometry.coords[0] == (30, 0)
    assert not row["too_far"]
    assert row["said"] == ""


def test_the_limits_of_the_map_are_told(walk: SurveyWalk) -> None:
    assert any("ground microphone" in line and "E and Q" in line for line in walk.basis.limits)


def test_what_to_mind_is_said() -> None:
    plastic = scene_of(ladder(**dict.fromkeys("ABCEFG", "polyethylene")), TOLD)
    found = plastic.walk().set_ups
    assert found["said"].str.contains("On a service at").any()
    far = found[found["too_far"]]
    assert far["said"].str.startswith("Farther apart than the ").all()
    assert (far["between_m"] > far["most_apart_m"]).all()


def test_no_delay_where_a_shorter_way_joins_the_sensors(scene: Scene) -> None:
    # R3 goes round by 300 m of other pipes; with these drawn longer than laid the ring is shorter.
    pipes = scene.network.pipes.copy()
    pipes.loc["B/2", "length_m"] = 600.0
    network = type(scene.network)(**{**vars(scene.network), "pipes": pipes})
    found = scene_of(network, {"B": (1.0, 50.0, 550.0)}).walk().set_ups
    round_about = found[found["said"].str.contains("Another way")]
    assert np.isnan(round_about["delay_ms"]).all()
