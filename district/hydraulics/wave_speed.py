"""How fast sound runs in a water pipe, by material, with its spread."""

from __future__ import annotations

from typing import Any

import numpy as np

from district.hydraulics.model import Reals

WATER_MODULUS_GPA = 2.19
"""Bulk modulus of water near 20 °C (from memory). A text from which the formula was taken converts
300,000 psi to 6.07 GPa, which is wrong: it is 2.07."""
WATER_KG_M3 = 998.2
"""At 20 °C (from memory)."""
_PIPES: dict[str, tuple[float, float, float]] = {
    "steel": (207.0, 60.0, 0.10),
    "ductile_iron": (165.0, 25.0, 0.10),
    "cast_iron": (100.0, 15.0, 0.10),
    "asbestos_cement": (24.0, 12.0, 0.15),
    "pvc": (3.0, 20.0, 0.35),
    "polyethylene": (0.9, 11.0, 0.35),
    "copper": (117.0, 15.0, 0.10),
    "lead": (16.0, 6.0, 0.20),
    "concrete": (30.0, 10.0, 0.20),
    "grp": (20.0, 50.0, 0.40),
}
"""Young's modulus in GPa, bore over wall, and how far the speed may lie from theirs (95 %).

No published table of speeds by material and bore was at hand. The first six are usual values of
the formula's worked figures, the others from memory; the spreads are assumptions, that of PVC wide
enough for 484 m/s at a test site (Gao et al. 2004, J Sound Vib 277, 133, from memory).
"""
_UNKNOWN = (1000.0, 0.60)
"""Speed and spread where the material is not known: from plastic to metal. Assumption."""


def wave_speed_m_s(
    modulus_gpa: Reals, bore_over_wall: Reals, restraint: Reals | float = 1.0
) -> Reals:
    """Speed of a pressure wave in a thin-walled pipe: sqrt(K/rho) / sqrt(1 + c (K/E) (D/e)).

    Parameters: Young's modulus of the wall, bore over wall, and c for how the pipe is held (0.85
    to 1.0). Source: the classical water-hammer formula.
    """
    rigid = np.sqrt(WATER_MODULUS_GPA * 1e9 / WATER_KG_M3)
    wall = restraint * WATER_MODULUS_GPA / np.asarray(modulus_gpa) * np.asarray(bore_over_wall)
    return np.asarray(rigid / np.sqrt(1 + wall))


def speeds_m_s(materials: Any) -> tuple[Reals, Reals]:
    """Speed of sound by pipe, and its 95 % limit as a share of it; `materials` (P)."""
    named = np.asarray(materials, dtype=str)
    speed = np.full(len(named), _UNKNOWN[0])
    spread = np.full(len(named), _UNKNOWN[1])
    for material, (modulus, ratio, share) in _PIPES.items():
        own = named == material
        speed[own] = wave_speed_m_s(np.array(modulus), np.array(ratio))
        spread[own] = share
    return speed, spread
