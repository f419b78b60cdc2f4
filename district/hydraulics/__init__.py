"""Heads, flows and leakage in the network's pipes, and how a leak shows at a logger."""

from district.hydraulics.assembly import Pattern, pattern_of
from district.hydraulics.model import Kind, Model, Openings, Service, State
from district.hydraulics.sensitivity import (
    Sensitivity,
    head_sensitivity,
    roughness_sensitivity,
    sensitivity,
)
from district.hydraulics.steady import solve

__all__ = [
    "Kind",
    "Model",
    "Openings",
    "Pattern",
    "Sensitivity",
    "Service",
    "State",
    "head_sensitivity",
    "pattern_of",
    "roughness_sensitivity",
    "sensitivity",
    "solve",
]
