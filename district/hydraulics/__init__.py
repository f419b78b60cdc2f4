"""Heads, flows and leakage in the network's pipes, and how a leak shows at a logger."""

from district.hydraulics.model import Kind, Model, Openings, Service, State

__all__ = ["Kind", "Model", "Openings", "Service", "State"]
