"""Heads, flows and leakage in the network's pipes, and how a leak shows at a logger."""

from district.hydraulics.assembly import Pattern, pattern_of
from district.hydraulics.calibration import calibrate
from district.hydraulics.demands import hourly_demands
from district.hydraulics.drawing import draw_model
from district.hydraulics.extended import Course, Hours, run_hours, solve_many
from district.hydraulics.leakage import delivered_share, leaked_l_s, orifice_flow_l_s
from district.hydraulics.model import Kind, Model, Openings, Service, State
from district.hydraulics.sensitivity import (
    Sensitivity,
    head_sensitivity,
    roughness_sensitivity,
    sensitivity,
)
from district.hydraulics.steady import solve
from district.hydraulics.tanks import Tanks
from district.hydraulics.water import Calibrated, Demands, Drawn

__all__ = [
    "Calibrated",
    "Course",
    "Demands",
    "Drawn",
    "Hours",
    "Kind",
    "Model",
    "Openings",
    "Pattern",
    "Sensitivity",
    "Service",
    "State",
    "Tanks",
    "calibrate",
    "delivered_share",
    "draw_model",
    "head_sensitivity",
    "hourly_demands",
    "leaked_l_s",
    "orifice_flow_l_s",
    "pattern_of",
    "roughness_sensitivity",
    "run_hours",
    "sensitivity",
    "solve",
    "solve_many",
]
