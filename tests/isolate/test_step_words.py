"""Tests of `district.isolate.step_words`."""

from __future__ import annotations

from dataclasses import replace
from datetime import time

import numpy as np
import pandas as pd

from district.isolate.step_order import Night
from district.isolate.step_split import Split
from district.isolate.step_trees import Parting
from district.isolate.step_words import assumed, reading
from tests.isolate.towns import town

NIGHT = Night(time(1, 30), time(4, 30))


def test_meters_are_read_together_and_their_steps_told() -> None:
    rows = [("M1", "X", "A"), ("M2", "X", "A"), ("M3", "A", "B")]
    bounds = pd.DataFrame(rows, columns=["meter_id", "upstream_cell_id", "downstream_cell_id"])
    network = replace(town(), boundaries=bounds)
    said = reading(network, "A", 100.0, 0.09, NIGHT)
    assert said[0] == (
        "Inflow: by M1 and M2, less what leaves through M3 together, all read at the same moment."
    )
    assert "steps of 100 L" in said[1]
    assert "over 15 minutes is good to 0.09 L/s" in said[1]
    assert reading(network, "B", 0.0, 0.01, NIGHT) == ["Inflow: by M3."]


def test_fewer_steps_and_too_short_a_night_are_owned_up_to() -> None:
    part = np.array([0, 1, 2])
    few = Split(Parting(part, 1.0, 10), proven=False)
    said = assumed(few, NIGHT, 4)
    assert said[0].startswith("The night leaves no time for more valves")
    assert said[1].startswith("2 steps of 4")
    assert "takes 15 minutes" in said[2]
    proven = assumed(Split(Parting(part, 1.0, 2), proven=True), NIGHT, 2)
    assert proven[0].startswith("Assumed: a step takes")
