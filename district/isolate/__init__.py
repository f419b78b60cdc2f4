"""Which valves to shut for a stretch of pipe, and whom that leaves without water."""

from district.isolate.cascade import cascade, connections_of
from district.isolate.losses import segment_losses, valve_losses
from district.isolate.new_valves import new_valves
from district.isolate.of_leak import leak_segments
from district.isolate.plan import Plan, plan_shut_off
from district.isolate.pressure import PressureLeft, pressure_left
from district.isolate.segments import Segments, segments_of
from district.isolate.step_order import Night
from district.isolate.step_plan import StepPlan, plan_step_test
from district.isolate.step_sections import Sought
from district.isolate.target import Target, distance_target, pipes_target, point_target
from district.isolate.unshuttable import without_stuck

__all__ = [
    "Night",
    "Plan",
    "PressureLeft",
    "Segments",
    "Sought",
    "StepPlan",
    "Target",
    "cascade",
    "connections_of",
    "distance_target",
    "leak_segments",
    "new_valves",
    "pipes_target",
    "plan_shut_off",
    "plan_step_test",
    "point_target",
    "pressure_left",
    "segment_losses",
    "segments_of",
    "valve_losses",
    "without_stuck",
]
