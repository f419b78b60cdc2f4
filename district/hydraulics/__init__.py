"""Heads, flows and leakage in the network's pipes, and how a leak shows at a logger."""

from district.hydraulics.assembly import Pattern, pattern_of
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

__all__ = [
    "Course",
    "Hours",
    "Kind",
    "Model",
    "Openings",
    "Pattern",
    "Sensitivity",
    "Service",
    "State",
    "Tanks",
    "delivered_share",
    "head_sensitivity",
    "leaked_l_s",
    "orifice_flow_l_s",
    "pattern_of",
    "roughness_sensitivity",
    "run_hours",
    "sensitivity",
    "solve",
    "solve_many",
]
