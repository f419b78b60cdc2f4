"""Heads, flows and leakage in the network's pipes, and how a leak shows at a logger."""

from district.hydraulics.assembly import Pattern, pattern_of
from district.hydraulics.calibration import calibrate
from district.hydraulics.demands import hourly_demands
from district.hydraulics.drawing import draw_model
from district.hydraulics.model import Kind, Model, Openings, Service, State
from district.hydraulics.sensitivity import (
    Sensitivity,
    head_sensitivity,
    roughness_sensitivity,
    sensitivity,
)
from district.hydraulics.steady import solve
from district.hydraulics.water import Calibrated, Demands, Drawn

__all__ = [
    "Calibrated",
    "Demands",
    "Drawn",
    "Kind",
    "Model",
    "Openings",
    "Pattern",
    "Sensitivity",
    "Service",
    "State",
    "calibrate",
    "draw_model",
    "head_sensitivity",
    "hourly_demands",
    "pattern_of",
    "roughness_sensitivity",
    "sensitivity",
    "solve",
]
