"""Background leakage by components, and what is found above it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.balance.leak_law import REFERENCE_M, power_law
from district.estimates import (
    Array,
    Estimate,
    combine_limits,
    estimate,
    inverted,
    multiply_limits,
    scaled,
)
from district.hydraulics.expected import background_at_50_m_l_s
from district.network import Network
from district.settings import Background
from district.units import M3_PER_L_S_H

SERVICE_BURST_M3_H = 1.6
"""Flow of a burst service pipe at 50 m (from memory: Lambert et al. 1999; Thornton, Sturm &
Kunkel 2008, table 10.8, gives 6 US gallons an hour and psi, seen), proportional to pressure."""


def background_l_s(
    mains_km: Any,
    *,
    connections_count: Any,
    private_km: Any,
    pressure_m: Any,
    background: Background,
    condition_factor: Any,
) -> Array:
    """Leakage too small to find, from the components at 50 m, in L/s.

    `background_at_50_m_l_s` x (P/50)^exponent; the exponent 1.5 for zones whose
    detectable leaks are fixed: Thornton, Sturm & Kunkel 2008, p. 142. It is that of openings
    whose area is all variable, so the form of fixed and variable areas leaves it as it is.
    """
    at_50_m = background_at_50_m_l_s(
        mains_km,
        connections_count=connections_count,
        private_km=private_km,
        background=background,
        condition_factor=condition_factor,
    )
    return power_law(at_50_m, pressure_m=pressure_m, exponent=background.exponent)


def background_limits(
    network: Network,
    *,
    cells: pd.Index[Any],
    pressure: Estimate,
    background: Background,
) -> Estimate:
    """Background leakage of the cells at `pressure` (m; last axis the cells), limits by variance
    of the condition factor's and the pressure's."""
    sizes = network.cells.reindex(cells)

    def at(pressure_m: Any, factor: Any) -> Array:
        return background_l_s(
            sizes["mains_km"].to_numpy(dtype=float),
            connections_count=sizes["connections_count"].to_numpy(dtype=float),
            private_km=sizes["private_km"].to_numpy(dtype=float),
            pressure_m=pressure_m,
            background=background,
            condition_factor=factor,
        )

    plain = Estimate(*(at(p, 1.0) for p in pressure))
    return multiply_limits(
        plain,
        estimate(
            background.condition_factor,
            background.condition_factor_low,
            background.condition_factor_high,
        ),
    )


def above_background(leakage_l_s: Estimate, background_l_s: Estimate) -> Estimate:
    """What of a zone's leakage bursts and findable leaks account for, L/s: never below nothing.

    Where leakage is below the background the components were set too high for this zone; there
    is then nothing to find, not less than nothing.
    """
    rest = combine_limits(leakage_l_s, background_l_s, signs=(1, -1))
    return Estimate(*(np.where(np.isnan(x), np.nan, np.maximum(x, 0.0)) for x in rest))


def service_bursts_count(excess_l_s: Estimate, pressure: Estimate) -> Estimate:
    """How many burst service pipes would give this excess at this pressure (m).

    1.6 m3/h each at 50 m, in proportion to pressure (see `SERVICE_BURST_M3_H`). NaN without
    pressure. A measure for crews: one burst main counts as four or more.

    >>> one = estimate(0.4), estimate(45.0)
    >>> round(float(service_bursts_count(*one).value), 2)
    1.0
    """
    one_l_s = scaled(pressure, SERVICE_BURST_M3_H / M3_PER_L_S_H / REFERENCE_M)
    count = multiply_limits(excess_l_s, inverted(one_l_s))
    return Estimate(*(np.where(np.isnan(x), np.nan, np.maximum(x, 0.0)) for x in count))
