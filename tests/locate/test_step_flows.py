"""Tests of `district.locate.step_flows`."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from district.locate.step_flows import beyond_use, expected_use, of_zone, read_steps
from district.network import Network
from district.schema.field_records import STEP_TESTS
from tests.locate.field_scene import LONDON, rows, street

NETWORK = street()


def steps_of(*flows: tuple[str | None, float], gap_minutes: int = 15) -> pd.DataFrame:
    """Steps a quarter of an hour apart."""
    begin = pd.Timestamp("2025-11-03T01:00Z")
    given = [
        {
            "test_id": "T1",
            "time": (begin + n * pd.Timedelta(minutes=gap_minutes)).isoformat(),
            "valve_id": valve,
            "flow_l_s": flow,
        }
        for n, (valve, flow) in enumerate(flows)
    ]
    return rows(STEP_TESTS, *given)


def counting(litres: float) -> Network:
    meters = NETWORK.meters.assign(litres_per_pulse=litres)
    return replace(NETWORK, meters=meters)


def test_falls_and_what_is_left() -> None:
    steps, _, usable = read_steps(NETWORK, "A", steps_of((None, 1.7), ("V2", 0.7), ("V1", 0.5)))
    assert steps.valves == ("V2", "V1")
    assert steps.drop_l_s == pytest.approx([0.5, 1.0, 0.2])
    assert usable.all()


def test_a_coarse_meter_read_for_a_short_time_widens_what_is_not_stated() -> None:
    """By the triangle: 0.776 of 100 L over 900 s is 0.086 L/s, three times that over 300 s."""
    flows = ((None, 1.7), ("V2", 0.7), ("V1", 0.5))
    fine = read_steps(NETWORK, "A", steps_of(*flows))[0].sd_l_s[1] * 1.96
    assert fine == pytest.approx(0.02 * np.hypot(1.7, 0.7))
    quarter = read_steps(counting(100.0), "A", steps_of(*flows))[0].sd_l_s[1] * 1.96
    assert quarter == pytest.approx(np.hypot(fine, np.sqrt(2) * 0.0863), rel=0.01)
    short = read_steps(counting(100.0), "A", steps_of(*flows, gap_minutes=5))[0].sd_l_s[1] * 1.96
    assert short == pytest.approx(np.hypot(fine, 3 * np.sqrt(2) * 0.0863), rel=0.01)
    stated = steps_of(*flows).assign(spread_l_s=0.01)
    assert read_steps(counting(100.0), "A", stated)[0].sd_l_s[1] * 1.96 == pytest.approx(
        0.01 * np.sqrt(2)
    )


def test_valves_of_the_preparation_part_sections_and_take_no_fall() -> None:
    """V1 shut before the start: nothing behind it is fed any more, so that V2 tells of nothing."""
    prepared, section, usable = read_steps(
        NETWORK, "A", steps_of(("V77", 1.9), (None, 1.7), ("V2", 0.7), ("V1", 0.5))
    )
    plain, same, _ = read_steps(NETWORK, "A", steps_of((None, 1.7), ("V2", 0.7), ("V1", 0.5)))
    assert prepared.prepared_count == 1
    assert prepared.drop_l_s[[2, 3, 0]] == pytest.approx(plain.drop_l_s[[1, 2, 0]])
    assert prepared.sd_l_s[[2, 3, 0]] == pytest.approx(plain.sd_l_s[[1, 2, 0]])
    assert (np.maximum(section - 1, np.minimum(section, 0)) == same).all()
    assert usable.tolist() == [True, False, True, True]


def test_use_is_brought_to_the_inflow_less_the_leak() -> None:
    steps, section, usable = read_steps(
        NETWORK, "A", steps_of((None, 1.3), ("V2", 0.2), ("V1", 0.1))
    )
    plain, known = (
        expected_use(
            NETWORK, steps, section, usable, flow_l_s=flow, limit_l_s=0.01, settings=LONDON
        )
        for flow in (np.nan, 1.0)
    )
    assert plain.use_l_s.sum() < known.use_l_s.sum() < 0.3
    ratio = known.use_l_s / plain.use_l_s
    assert ratio == pytest.approx(np.full(3, ratio[0]))
    net, _ = beyond_use(steps, known)
    assert int(np.argmax(net)) == 1
    assert net[1] == pytest.approx(1.1 - known.use_l_s[1] + 0.05 * 0.2)


def test_only_tests_that_shut_a_valve_of_the_zone() -> None:
    table = steps_of((None, 1.7), ("V2", 0.7))
    assert [name for name, _ in of_zone(NETWORK, "A", table)] == ["T1"]
    assert of_zone(NETWORK, "supply S", table) == []
