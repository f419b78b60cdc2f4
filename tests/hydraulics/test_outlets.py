"""Tests of `district.hydraulics.outlets`."""

from __future__ import annotations

import numpy as np
import pytest

from district.hydraulics import Openings, Service
from district.hydraulics.outlets import Runs, at_heads, head_needed, outlets_of, turned
from tests.hydraulics.networks import network

MODEL = network({0: 60.0}, [0.0, 10.0, 20.0], [(0, 1), (1, 2)])
DEMAND = np.array([0.0, 2.0, -1.0])
OPENINGS = Openings("power", np.array([0.0, 0.0, 0.1]), np.full(3, 1.5), np.zeros(3), np.zeros(3))
EVERYWHERE = np.ones(3, dtype=bool)


def test_only_what_depends_on_pressure_is_an_outlet() -> None:
    found = outlets_of(MODEL, DEMAND, OPENINGS, Service(5.0, 15.0), EVERYWHERE)
    assert found.node.tolist() == [2, 1]
    assert found.is_leak.tolist() == [True, False]
    assert found.zero_m.tolist() == [20.0, 15.0]
    assert found.most_l_s.tolist() == [np.inf, 2.0]
    assert outlets_of(MODEL, DEMAND, None, None, EVERYWHERE).node.size == 0
    dry = outlets_of(MODEL, DEMAND, OPENINGS, Service(), np.zeros(3, dtype=bool))
    assert dry.node.size == 0


def test_the_head_needed_gives_the_flow_back() -> None:
    outlets = outlets_of(MODEL, DEMAND, OPENINGS, Service(5.0, 15.0), EVERYWHERE)
    flow, runs = at_heads(outlets, np.array([60.0, 17.5, 29.0]))
    assert flow == pytest.approx([0.1 * 9**1.5, 1.0])
    assert runs.tolist() == [Runs.PARTLY, Runs.PARTLY]
    head, slope = head_needed(outlets, flow)
    assert head == pytest.approx([29.0, 17.5])
    more, _ = head_needed(outlets, flow + 1e-6)
    assert slope == pytest.approx((more - head) / 1e-6, rel=1e-4)


def test_outlets_stop_at_their_ends_and_leave_them() -> None:
    outlets = outlets_of(MODEL, DEMAND, OPENINGS, Service(5.0, 15.0), EVERYWHERE)
    high, low = np.array([60.0, 50.0, 50.0]), np.array([60.0, 0.0, 0.0])
    partly = np.full(2, Runs.PARTLY)
    flow, runs = turned(outlets, partly, np.array([-0.1, 2.5]), low)
    assert (flow.tolist(), runs.tolist()) == ([0.0, 2.0], [Runs.DRY, Runs.FULLY])
    flow, again = turned(outlets, runs, flow, high)
    assert flow == pytest.approx([0.05 * 30**1.5, 2.0])
    assert again.tolist() == [Runs.PARTLY, Runs.FULLY]
    _, after = turned(outlets, again, flow, low)
    assert after.tolist() == [Runs.PARTLY, Runs.PARTLY]
