"""Step tests. Source: Thornton, Sturm & Kunkel 2008, Water Loss Control, section 16.5.3, pp.
276-277 (seen). No published table of steps was at hand; figure 16.14 has an axis without units.
"""

from __future__ import annotations

import re

import pytest
from scipy.optimize import brentq

from district.locate.step_test import step_evidence
from district.schema.field_records import STEP_TESTS
from tests.locate.field_scene import at, rows, scene_of

HEAD_M, LOST_M_AT_3_L_S = 60.0, 8.0


def inflow_l_s(openings: list[float]) -> float:
    """Inflow to leaks (L/s per m of pressure each) behind one main that loses head by the power
    1.852 of its flow (Hazen & Williams, from memory)."""

    def left(flow: float) -> float:
        pressure = HEAD_M - LOST_M_AT_3_L_S * (flow / 3.0) ** 1.852
        return flow - sum(openings) * pressure

    return float(brentq(left, 0.0, 10.0))


@pytest.mark.parametrize(("shut_first", "shut_next", "open"), [(1.0, 0.3, 1.5), (0.1, 1.4, 0.5)])
def test_later_steps_are_under_stated_and_the_limits_hold_the_truth(
    shut_first: float, shut_next: float, open: float
) -> None:
    """P. 277: each closure lowers the inflow and the head lost, pressure rises in the part left
    open and what leaks there grows, so that a step is less than the section leaked."""
    openings = [q / 52.0 for q in (shut_first, shut_next, open)]
    start = inflow_l_s(openings)
    pressure = start / sum(openings)
    flows = [start, inflow_l_s(openings[1:]), inflow_l_s(openings[2:])]
    drops = [flows[0] - flows[1], flows[1] - flows[2]]
    leaked = [o * pressure for o in openings]
    assert all(drop < leak for drop, leak in zip(drops, leaked, strict=False))
    given = [
        {"test_id": "T", "time": f"2025-11-03T03:{n:02}Z", "valve_id": valve, "flow_l_s": flow}
        for n, valve, flow in zip((0, 15, 30), (None, "V2", "V1"), flows, strict=True)
    ]
    scene = scene_of()
    (told,) = step_evidence(scene, rows(STEP_TESTS, *given))
    (low, high), where = re.findall(r"\(([\d.]+) to ([\d.]+)\)", told.said)[0], told.said
    most = leaked[1] if "valve V1" in where else leaked[0] if "valve V2" in where else flows[2]
    # Use and background of a section, some hundredths of a litre, are taken off.
    assert float(low) - 0.02 <= most <= float(high) + 0.05
    assert at(scene, told.log_likelihood, 300) != at(scene, told.log_likelihood, 500)
