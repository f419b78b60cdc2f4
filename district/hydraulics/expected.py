"""Use and background leakage to expect where no meter tells them."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.hydraulics.model import Reals
from district.settings import Background, Settings

BILLED_SPREAD_SHARE = 0.4
"""95 % limit of how far a connection's mean use of some weeks may lie from that of its bills
(common practice, no source)."""
ALLOWED_SPREAD_SHARE = 1.2
"""The same of one connection's use and its allowance by properties and class (common practice, no
source: use of single households scatters by about 60 %)."""
REFERENCE_M = 50.0
"""Pressure at which background leakage by components is stated."""
_SECONDS_A_DAY = 86_400.0
_SECONDS_AN_HOUR = 3_600.0


def expected_use_l_s(
    connections: pd.DataFrame, *, settings: Settings, billed_l_s: pd.Series[Any] | None = None
) -> Reals:
    """Mean use of each connection: as billed (by meter_id) where told, else its allowance.

    A meter that several connections share counts by their properties. A class without an
    allowance is taken as household.
    """
    properties = connections["properties"].to_numpy(dtype=float)
    properties = np.where(np.isnan(properties), 1.0, properties)
    by_class = {name: rule.l_property_d for name, rule in settings.allowances.items()}
    a_day = connections["use_class"].map(by_class).fillna(by_class["household"]).to_numpy(float)
    use = a_day * properties / _SECONDS_A_DAY
    if billed_l_s is None:
        return np.asarray(use)
    meter = connections["meter_id"].astype(object).fillna("").astype(str)
    billed = meter.map(billed_l_s).to_numpy(dtype=float)
    whole = pd.Series(use).groupby(meter.to_numpy()).transform("sum").to_numpy()
    part = np.divide(use, whole, out=np.zeros(len(use)), where=whole > 0)
    return np.asarray(np.where(np.isfinite(billed) & (billed >= 0), billed * part, use))


def pressure_power(pressure_m: Any, *, settings: Settings) -> Reals:
    """Background leakage at a pressure over that at 50 m."""
    share = np.maximum(np.asarray(pressure_m, dtype=float), 0.0) / REFERENCE_M
    return np.asarray(share**settings.background.exponent)


def background_at_50_m_l_s(
    mains_km: Any,
    *,
    connections_count: Any,
    private_km: Any,
    background: Background,
    condition_factor: Any,
) -> Reals:
    """Background leakage at 50 m by components, L/s.

    (mains + connections + private pipe) x condition factor; components after Lambert et al. 1999,
    J Water SRT - Aqua 48(6), from memory.
    """
    hourly = (
        background.mains_l_km_h * np.asarray(mains_km, dtype=float)
        + background.connection_l_connection_h * np.asarray(connections_count, dtype=float)
        + background.private_l_km_h * np.asarray(private_km, dtype=float)
    )
    return np.asarray(hourly * condition_factor / _SECONDS_AN_HOUR)
