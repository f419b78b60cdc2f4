"""A table AUDIT typed by hand: two meters and an allowance, a factor, a size."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.schema.audited import AUDIT

LEAK, DAILY, HOURS, RATIO = "night leakage", "daily leakage", "night-to-day factor", "by connection"


def hand_audit(place: str = "Z1", name: str = "zone meter A") -> pd.DataFrame:
    """Leak = A - B - use = 3.0 ± 0.5; hours 20 (-2, +1); daily = leak x hours x 3.6."""
    rows: list[dict[str, Any]] = []

    def put(figure: str, order: int, input: str, kind: str, operation: str, value: float,
            limits: Any = None, effects: Any = None, source: str = "") -> None:  # fmt: skip
        low, high = limits or (np.nan, np.nan)
        lowers, raises = effects or (np.nan, np.nan)
        rows.append(
            dict(zip(AUDIT.names(), (
                place, figure, float(order), input, kind, operation, value, low, high, "u",
                lowers, raises, np.nan, "said" if order == 0 else "", source), strict=True))
        )  # fmt: skip

    above = "figure above"
    put(LEAK, 0, "", "figure", "=", 3.0, (2.5, 3.5))
    put(LEAK, 1, name, "measured", "+", 5.0, (4.7, 5.3), (0.3, 0.3))
    put(LEAK, 2, "use", "allowance", "-", 2.0, (1.6, 2.4), (0.4, 0.4), "[allowances.household]")
    put(HOURS, 0, "", "figure", "=", 20.0, (18.0, 21.0))
    put(HOURS, 1, "exponent", "assumed", "", 20.0, (18.0, 21.0), (2.0, 1.0))
    daily = 3.0 * 20.0 * 3.6
    parts = {name: (0.3 * 72, 0.3 * 72), "use": (0.4 * 72, 0.4 * 72), "exponent": (21.6, 10.8)}
    below, above_ = (np.sqrt(sum(p[i] ** 2 for p in parts.values())) for i in (0, 1))
    put(DAILY, 0, "", "figure", "=", daily, (daily - below, daily + above_))
    put(DAILY, 1, LEAK, "derived", "+", 3.0, (2.5, 3.5), source=above)
    put(DAILY, 2, HOURS, "derived", "×", 20.0, (18.0, 21.0), source=above)
    put(DAILY, 3, "m³", "derived", "×", 3.6)
    put(DAILY, 4, name, "measured", "", 5.0, (4.7, 5.3), parts[name])
    put(DAILY, 5, "use", "allowance", "", 2.0, (1.6, 2.4), parts["use"])
    put(DAILY, 6, "exponent", "assumed", "", 20.0, (18.0, 21.0), parts["exponent"])
    put(RATIO, 0, "", "figure", "=", daily / 60, (daily / 60 - 1.0, daily / 60 + 1.0))
    put(RATIO, 1, DAILY, "derived", "+", daily, source=above)
    put(RATIO, 2, "connections", "from the map", "÷", 60.0)
    put(RATIO, 3, "what is not told apart", "derived", "", np.nan, None, (1.0, 1.0))
    table = pd.DataFrame(rows)
    square = table["lowers"].fillna(0) ** 2 + table["raises"].fillna(0) ** 2
    whole = square.groupby(table["figure"]).transform("sum")
    table["variance_share"] = (square / whole).where(table["lowers"].notna())
    return table
