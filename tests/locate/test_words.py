"""What speaks for a stretch, in words."""

from __future__ import annotations

import numpy as np
import pandas as pd

from district.locate.words import reasons


def test_reasons_read_like_a_note_to_a_crew() -> None:
    table = pd.DataFrame(
        {
            "material": ["cast_iron", "unknown", "pvc"],
            "installed_year": [1931.0, np.nan, 1998.0],
            "diameter_mm": [80.0, 100.0, np.nan],
            "breaks_count": [3, 0, 1],
            "connections_count": [6, 1, 0],
        }
    )
    assert reasons(table) == [
        "cast iron of 1931, 80 mm, 3 earlier breaks, 6 connections",
        "unknown material, year unknown, 100 mm, 1 connection",
        "PVC of 1998, 1 earlier break",
    ]
