"""Uses on record: left out of the test, told where they show."""

from __future__ import annotations

import numpy as np
import pandas as pd

from district.detect.course import Alarm
from district.detect.recorded import Work
from district.detect.uses import meter_jumps_l_s, used, with_uses

AXIS = pd.date_range("2025-01-01", periods=60, freq="D")


def work(kind: str, first: str, last: str) -> Work:
    return Work(kind, pd.Timestamp(first), pd.Timestamp(last), "V1", frozenset({"V1", "V2"}))


def test_nights_of_uses_are_found_for_every_place_they_touch() -> None:
    works = (
        work("flushing", "2025-01-10", "2025-01-11"),
        work("repair", "2025-01-20", "2025-01-20"),
    )
    assert used(works, ["V1", "V2", "V3"], AXIS) == {"V1": [(9, 10)], "V2": [(9, 10)]}


def test_uses_outside_the_record_are_cut_or_left_out() -> None:
    early = work("planned_use", "2024-12-20", "2025-01-02")
    assert used((early,), ["V1"], AXIS) == {"V1": [(0, 1)]}
    assert used((work("planned_use", "2024-12-20", "2024-12-22"),), ["V1"], AXIS) == {}
    assert used((early,), ["V1"], AXIS[:0]) == {}


def test_a_use_that_shows_is_a_rise_and_a_fall_among_the_alarms() -> None:
    flow = np.full(60, 1.0)
    flow[20:23] = 3.0
    before = Alarm(40, 42, rise=True)
    found = with_uses((before,), flow, sigma_l_s=0.1, spans=[(20, 22)])
    assert found == (Alarm(20, 21, rise=True), Alarm(23, 23, rise=False), before)


def test_a_use_of_one_night_or_that_does_not_show_tells_nothing() -> None:
    flow = np.full(60, 1.0)
    flow[20] = 3.0
    assert with_uses((), flow, sigma_l_s=0.1, spans=[(20, 20), (30, 33)]) == ()


def test_a_use_that_goes_on_has_no_fall_yet() -> None:
    flow = np.full(60, 1.0)
    flow[57:] = 3.0
    assert with_uses((), flow, sigma_l_s=0.1, spans=[(57, 59)]) == (Alarm(57, 58, rise=True),)


def test_a_changed_meter_lets_the_level_jump_by_a_share_of_the_nights_before() -> None:
    flow = np.full((60, 2), 2.0)
    flow[30:] = 50.0
    works = (
        work("meter_change", "2025-01-31", "2025-01-31"),
        work("flushing", "2025-01-10", "2025-01-10"),
    )
    jump = meter_jumps_l_s(works, ["V1", "V3"], AXIS, flow)
    assert np.argwhere(jump).tolist() == [[30, 0], [31, 0]]
    np.testing.assert_allclose(jump[[30, 31], 0], 0.04 * 2.0)
    assert not meter_jumps_l_s(works, ["V1"], AXIS[:10], flow[:10, :1]).any()
