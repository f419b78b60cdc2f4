"""What a leak's flow says of whether it is on a main or on a connection."""

from __future__ import annotations

from typing import Any

import numpy as np

from district.break_rates import AT_PRESSURE_M, MAINS_BURSTS, SERVICE_BURST_M3_H
from district.locate.spots import Evidence, Sought, Spots
from district.units import M3_PER_L_S_H
from district.words import brief, figure

BURST_SPREAD = 0.8
"""Spread of the logarithm of a burst's flow about those means, lognormal: 95 % within a factor of
about 5. Assumption."""
OTHER_SHARE = 0.2
"""Leaks that are no such burst (joints, valves, cracks): of any size whether on a main or on a
connection. Assumption."""
_OTHER_SPREAD = 1.5
_LIMITS = 2 * 1.96


def size_evidence(spots: Spots, sought: Sought, *, pressure_m: float) -> Evidence:
    """Likelihood of the leak's flow at every spot, by what share of its leaks are of connections.

    Parameters: `pressure_m` usual pressure of the zone, NaN where not known (50 m is then taken).
    A zone's excess may be several leaks and a growing leak may still become any size: neither
    speaks of one pipe or another.
    """
    none = np.zeros(len(spots.pipe))
    if sought.kind == "excess":
        said = "An excess may be several leaks: its size tells nothing of where each is."
        return Evidence(sought.sought_id, "size", said, none, used=False)
    if sought.kind == "growing_leak":
        said = "The leak still grows: its size so far tells nothing of where it is."
        return Evidence(sought.sought_id, "size", said, none, used=False)
    if sought.flow_l_s <= 0:
        said = "The flow may be nothing: its size tells nothing of where it is."
        return Evidence(sought.sought_id, "size", said, none, used=False)
    pressure = pressure_m if pressure_m > 0 else AT_PRESSURE_M
    spread = (sought.flow_l_s_high - sought.flow_l_s_low) / _LIMITS / sought.flow_l_s
    main, service = _densities(sought.flow_l_s, pressure, spread)
    likelihood = (1 - spots.service_share) * main + spots.service_share * service
    return Evidence(
        sought.sought_id, "size", _said(sought, service / main, pressure), np.log(likelihood)
    )


def _densities(flow_l_s: float, pressure_m: float, spread: float) -> tuple[float, float]:
    """Probability density of the logarithm of the flow if on a main, and if on a connection."""
    rates, flows = np.array(MAINS_BURSTS).T
    usual = np.log(np.append(flows, SERVICE_BURST_M3_H) / M3_PER_L_S_H * pressure_m / AT_PRESSURE_M)
    x = np.log(flow_l_s)

    # The published flows are means; a lognormal's median lies below its mean.
    bursts = _normal(x - usual + BURST_SPREAD**2 / 2, np.hypot(BURST_SPREAD, spread))
    between = (usual[0] + usual[-1]) / 2
    other = OTHER_SHARE * float(_normal(x - between, np.hypot(_OTHER_SPREAD, spread)))
    main = float(np.average(bursts[:-1], weights=rates))
    return (1 - OTHER_SHARE) * main + other, (1 - OTHER_SHARE) * float(bursts[-1]) + other


def _normal(distance: Any, spread: float) -> Any:
    """Density of a normal distribution at a distance from its mean, but for a constant."""
    return np.exp(-((distance / spread) ** 2) / 2) / spread


def _said(sought: Sought, ratio: float, pressure_m: float) -> str:
    flow = figure(sought.flow_l_s, sought.flow_l_s_low, sought.flow_l_s_high, name="flow_l_s")
    mains, service = (
        brief(f / M3_PER_L_S_H * pressure_m / AT_PRESSURE_M)
        for f in (MAINS_BURSTS[0][1], SERVICE_BURST_M3_H)
    )
    times = max(ratio, 1 / ratio)
    usual = (
        f"at {pressure_m:.0f} m of pressure a main that bursts loses about {mains} L/s, "
        f"a connection {service} L/s"
    )
    if times < 1.5:
        return f"{flow} fits a main and a connection alike: {usual}."
    likelier, other = ("a connection", "a main") if ratio > 1 else ("a main", "a connection")
    return f"{flow} fits {likelier} {times:.1f} times better than {other}: {usual}."
