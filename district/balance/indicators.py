"""Unavoidable losses, leakage index, and the published bands."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Literal

import numpy as np
import pandas as pd

from district.estimates import Array, Estimate, combine_limits, inverted, multiply_limits, scaled

LEAST_SIZE = 3000.0
LEAST_CONNECTIONS_PER_KM = 20.0
PRESSURE_RANGE_M = (25.0, 100.0)
BAND_RULES: dict[str, tuple[float, float, float]] = {
    "developed": (2.5, 20.0, 50.0),
    "developing": (5.0, 10.0, 50.0),
}
"""Country group -> upper edge of band A in L/connection/day per m of pressure, and the least and
largest pressure of the published table. Bands B and C end at twice and four times that edge."""


def unavoidable_losses_l_d(
    mains_km: Any, *, connections_count: Any, private_km: Any, pressure_m: Any
) -> Array:
    """Real losses that remain in a well-kept system at this pressure, L/day.

    (18 Lm + 0.8 Nc + 25 Lp) P, with Lm km of mains, Nc connections, Lp km of private pipe in
    all and P m: Lambert et al. 1999, J Water SRT - Aqua 48(6) 227-237 (coefficients from memory;
    the American ones in Thornton, Sturm & Kunkel 2008, table 7.2, agree).

    >>> float(unavoidable_losses_l_d(10, connections_count=1000, private_km=0, pressure_m=50))
    49000.0
    """
    by_pressure = (
        18.0 * np.asarray(mains_km, dtype=float)
        + 0.8 * np.asarray(connections_count, dtype=float)
        + 25.0 * np.asarray(private_km, dtype=float)
    )
    return np.asarray(by_pressure * pressure_m)


def leakage_index(real_losses_m3_d: Any, *, unavoidable_m3_d: Any) -> Array:
    """Real losses over unavoidable ones; NaN where nothing is unavoidable (no pipes).

    Source: Thornton, Sturm & Kunkel 2008, p. 91.
    """
    return ratio(real_losses_m3_d, unavoidable_m3_d)


def ratio(amount: Any, by: Any) -> Array:
    """`amount` / `by`, NaN where `by` is not above zero: never a division by zero."""
    top, bottom = np.asarray(amount, dtype=float), np.asarray(by, dtype=float)
    usable = bottom > 0
    return np.where(usable, top / np.where(usable, bottom, 1.0), np.nan)


def index_limits(real_losses_m3_d: Estimate, unavoidable_m3_d: Estimate) -> Estimate:
    """The leakage index with the limits of losses and pressure combined by variance."""
    return multiply_limits(real_losses_m3_d, inverted(unavoidable_m3_d))


def index_note(mains_km: float, *, connections_count: float, pressure_m: float) -> str:
    """Why the leakage index is outside its published limits of use; '' if it is inside.

    Limits: connections + 20 x km of at least 3000 (Liemberger & McKenzie 2005, from memory), at
    least 20 connections a km and 25 to 100 m (as first stated, Lambert et al. 1999).

    >>> index_note(100.0, connections_count=5000, pressure_m=45.0)
    ''
    """
    said = []
    size = connections_count + 20.0 * mains_km
    if not size >= LEAST_SIZE:
        said.append(f"too small: connections + 20 x km is {size:.0f}, below {LEAST_SIZE:.0f}")
    if connections_count < LEAST_CONNECTIONS_PER_KM * mains_km:
        dense = connections_count / mains_km
        said.append(f"too sparse: {dense:.0f} connections per km, below 20")
    low, high = PRESSURE_RANGE_M
    if not low <= pressure_m <= high:
        said.append(f"pressure of {pressure_m:.0f} m outside {low:.0f} to {high:.0f} m")
    return "; ".join(said)


def target_band(
    leakage_l_connection_d: float,
    *,
    pressure_m: float,
    country_group: Literal["developed", "developing"],
) -> str:
    """Band A to D of the physical-loss matrix; '' outside its pressures or without a figure.

    Liemberger & McKenzie 2005 (from memory), table in L/connection/day at 10 to 50 m, every
    edge of which is proportional to pressure; between its columns it is interpolated linearly.
    An edge belongs to the worse band, save the one of C, printed as '>' in D.

    >>> target_band(120.0, pressure_m=40.0, country_group="developed")
    'B'
    """
    slope, least_m, most_m = BAND_RULES[country_group]
    if not least_m <= pressure_m <= most_m or not np.isfinite(leakage_l_connection_d):
        return ""
    edge = slope * pressure_m
    if leakage_l_connection_d < edge:
        return "A"
    if leakage_l_connection_d < 2 * edge:
        return "B"
    return "C" if leakage_l_connection_d <= 4 * edge else "D"


def target_bands(
    leakage_l_connection_d: Estimate,
    *,
    pressure_m: Iterable[float],
    country_group: Literal["developed", "developing"],
) -> list[str]:
    """The band of each estimate, or 'B to D' where its limits lie in different bands.

    '' for losses below nothing even by their upper limit: a meter is wrong, not the network good.
    """
    bands = []
    for low, high, metres in zip(
        leakage_l_connection_d.low, leakage_l_connection_d.high, pressure_m, strict=True
    ):
        if high < 0:
            bands.append("")
            continue
        ends = [target_band(x, pressure_m=metres, country_group=country_group) for x in (low, high)]
        bands.append(ends[0] if ends[0] == ends[1] else " to ".join(e for e in ends if e))
    return bands


def size_columns(
    sizes: pd.DataFrame,
    *,
    leakage_m3_d: Estimate,
    pressure: Estimate,
    country_group: Literal["developed", "developing"],
) -> dict[str, Any]:
    """Columns that measure leakage against size: by connection, by km, index, note and band.

    Parameters: `sizes` a row a cell with mains_km, connections_count, private_km; `leakage_m3_d`
    and `pressure` (m) over the same rows.
    """
    km = sizes["mains_km"].to_numpy(dtype=float)
    count = sizes["connections_count"].to_numpy(dtype=float)
    private = sizes["private_km"].to_numpy(dtype=float)
    by_connection = scaled(leakage_m3_d, ratio(1000.0, count))
    unavoidable = Estimate(
        *(
            unavoidable_losses_l_d(km, connections_count=count, private_km=private, pressure_m=p)
            / 1000.0
            for p in pressure
        )
    )
    return {
        "leakage_l_connection_d": by_connection,
        "leakage_m3_km_d": scaled(leakage_m3_d, ratio(1.0, km)),
        "unavoidable_m3_d": unavoidable,
        "leakage_index": index_limits(leakage_m3_d, unavoidable),
        "index_note": [
            index_note(k, connections_count=n, pressure_m=p)
            for k, n, p in zip(km, count, pressure.value, strict=True)
        ],
        "target_band": target_bands(
            by_connection, pressure_m=pressure.value, country_group=country_group
        ),
    }


def share_limits(part: Estimate, whole: Estimate) -> Estimate:
    """1 - part / whole of independent estimates (non-revenue share); 0 where the whole is 0."""
    there = whole.value > 0
    safe = Estimate(*(np.where(there, w, 1.0) for w in whole))
    quotient = multiply_limits(part, inverted(safe))
    one = np.ones(part.value.shape)
    left = combine_limits(Estimate(one, one, one), quotient, signs=(1, -1))
    return Estimate(*(np.where(there, x, 0.0) for x in left))
