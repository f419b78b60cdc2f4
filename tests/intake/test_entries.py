from __future__ import annotations

import numpy as np

from district.intake.devices import Device
from district.intake.entries import IMPOSSIBLE, OK, beyond_tallies, each_of

METER = Device("M", "pulse", "meter", 1.0, most_m3_h=10.0, most_said="10 m³/h")


def test_a_step_takes_whole_usual_intervals() -> None:
    assert each_of(np.array([1.0, 2.4, 0.2]), np.ones(3)).tolist() == [1, 2, 1]
    assert len(each_of(np.zeros(0), np.zeros(0))) == 0


def test_what_cannot_pass_is_flagged_everywhere_and_counted_where_it_is_mine() -> None:
    volume, quality = np.full(40, 5.0), np.full(40, OK, dtype=np.int8)
    volume[[3, 30]] = 50.0, 20.0
    mine = np.arange(40) >= 20
    (tally,) = beyond_tallies(METER, volume, np.ones(40), quality, 0.1, mine)
    assert (tally.what, tally.count, tally.high) == ("beyond", 1, 20.0)
    assert np.flatnonzero(quality == IMPOSSIBLE).tolist() == [3, 30]


def test_a_record_mostly_beyond_keeps_its_values() -> None:
    quality = np.full(40, OK, dtype=np.int8)
    (tally,) = beyond_tallies(METER, np.full(40, 50.0), np.ones(40), quality, 0.1, quality == OK)
    assert (tally.what, tally.count, tally.total) == ("unit", 40, 40)
    assert (quality == OK).all()
