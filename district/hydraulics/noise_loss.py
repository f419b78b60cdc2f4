"""How much of a leak's noise is lost along a pipe, by material."""

from __future__ import annotations

from typing import Any

import numpy as np

from district.hydraulics.model import Reals

LOSS_DB_PER_M: dict[str, float] = {
    "steel": 0.08,
    "ductile_iron": 0.10,
    "cast_iron": 0.10,
    "copper": 0.10,
    "lead": 0.15,
    "asbestos_cement": 0.20,
    "concrete": 0.20,
    "pvc": 0.50,
    "polyethylene": 0.60,
    "grp": 0.40,
}
"""Leak noise lost along a pipe: metal carries it far, plastic little. Common practice, no
source."""
_UNKNOWN_LOSS = 0.25
LOUD_DB = 25.0
"""A usual leak stands this far above the quiet of the night at its own place; its 95 % limits are
20 dB either way. Common practice, no source: loggers differ and leaks more."""


def loss_db_per_m(materials: Any) -> Reals:
    """Noise lost by metre of each pipe; `materials` (P)."""
    return np.array([LOSS_DB_PER_M.get(str(m), _UNKNOWN_LOSS) for m in materials])
