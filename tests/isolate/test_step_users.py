"""Tests of `district.isolate.step_users`."""

from __future__ import annotations

from datetime import time

import numpy as np
import pandas as pd

from district.isolate.step_order import Night
from district.isolate.step_users import dry_h, pipe_table, user_table
from tests.isolate.towns import town

NETWORK = town()
SECTION = np.where(NETWORK.pipes.index.str.startswith("P7"), 1, 0)
SECTION[0] = -1
TURNS = pd.DataFrame(
    {
        "action": ["prepare", "step", "reopen", "reopen"],
        "section_id": ["", "1", "1", ""],
        "begins_s": [0.0, 1200.0, 2100.0, 2400.0],
        "ends_s": [300.0, 2100.0, 2400.0, 2700.0],
    }
)


def test_whose_water_goes_when_and_until_when() -> None:
    users = user_table(NETWORK, SECTION, TURNS, Night(time(2), time(4)))
    assert users["connection_id"].tolist() == ["H7"]
    (row,) = users.to_dict("records")
    assert (row["from_local_time"], row["until_local_time"]) == ("02:20", "02:40")
    assert row["properties"] == 32
    assert dry_h(TURNS) == [1200 / 3600]


def test_the_pipes_of_other_zones_are_left_out() -> None:
    pipes = pipe_table(NETWORK, SECTION)
    assert len(pipes) == len(NETWORK.pipes) - 1
    assert set(pipes["section_id"]) == {"0", "1"}
