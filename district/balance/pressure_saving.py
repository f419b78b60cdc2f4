"""The pressure of each zone, and what a metre less of it would save."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.balance.annual import YEAR_D
from district.balance.exponents import zone_law
from district.balance.grids import estimate_in, in_columns, wide
from district.balance.leak_law import Law, leakage_ratio
from district.balance.one_pressure import by_law, pressure_limits, standard_share
from district.estimates import Array, Estimate, multiply_limits, scaled
from district.schema.pressures import ZONE_PRESSURE
from district.settings import Settings
from district.words import PRESSURE_CAUTION


def saved_share(pressure: Estimate, *, less_m: float, law: Law) -> Estimate:
    """Share of leakage that goes when average pressure falls by `less_m`, limits by variance.

    1 - ((P - less) / P)^N1, from Thornton, Sturm & Kunkel 2008, equation 10.4, or the form of
    fixed and variable areas; all of it where less pressure is there than is taken off.

    >>> from district.estimates import estimate
    >>> one = Law("power", estimate(np.array([1.0])), np.array([50.0]))
    >>> float(saved_share(estimate(np.array([50.0])), less_m=1.0, law=one).value[0].round(3))
    0.02
    """

    def share(metres: Array, exponent: Array) -> Array:
        left = leakage_ratio(
            metres - less_m,
            reference_m=metres,
            exponent=exponent,
            form=law.form,
            head_m=law.head_m,
        )
        return np.asarray(1.0 - left)

    return by_law(share, pressure, law)


def zone_pressure(
    zones: pd.DataFrame,
    *,
    pressures: pd.DataFrame,
    exponents: pd.DataFrame,
    settings: Settings,
) -> pd.DataFrame:
    """Table ZONE_PRESSURE over the recent nights, in the order of `zones`.

    Parameters: `zones` table ZONES; `pressures` from `zone_pressures`; `exponents` table
    ZONE_EXPONENTS. Saving by one metre: leakage of the day x (1 - ((P - 1) / P)^N1) x 365, P the
    mean of the day; it is not below nothing, for less pressure never makes more leakage.
    """
    cells = pd.Index(pressures["cell_id"].unique(), dtype=object)
    order = cells.get_indexer(zones["cell_id"])
    recent = settings.night.recent_nights
    law = zone_law(exponents, form=settings.pressure.form, cells=cells)

    def middle(name: str) -> Estimate:
        parts = (p[-recent:] for p in pressure_limits(pressures, name, cells))
        return Estimate(*(pd.DataFrame(p).median().to_numpy(dtype=float) for p in parts))

    day, night = middle("pressure_m"), middle("night_pressure_m")
    leakage, daily = estimate_in(zones, "leakage_l_s"), estimate_in(zones, "leakage_m3_d")
    share = _at(saved_share(day, less_m=1.0, law=law), order)
    yearly = _not_below_zero(scaled(multiply_limits(daily, share), YEAR_D))
    standard = standard_share(night, standard_m=settings.pressure.standard_m, law=law)
    counts = pd.DataFrame(wide(pressures, "loggers_count", cells)[-recent:]).max()
    rests_on = pressures.drop_duplicates("cell_id")["rests_on"].to_numpy(dtype=object)[order]
    said = exponents.set_index("cell_id").loc[zones["cell_id"], "basis"]
    estimates = {
        "pressure_m": _at(day, order),
        "night_pressure_m": _at(night, order),
        "exponent_index": _at(law.exponent, order),
        "standard_leakage_l_s": multiply_limits(leakage, _at(standard, order)),
        "saving_l_s": scaled(yearly, 1000.0 / (YEAR_D * 86400.0)),
        "saving_m3_year": yearly,
        "saving_currency_year": scaled(yearly, settings.costs.water_currency_m3),
    }
    table = {
        "cell_id": zones["cell_id"].to_numpy(dtype=object),
        "loggers_count": counts.to_numpy(dtype=float)[order],
        "rests_on": rests_on,
        "basis": [f"{s} {PRESSURE_CAUTION}" for s in said],
    }
    table |= in_columns(estimates)
    return pd.DataFrame(table, columns=list(ZONE_PRESSURE.names()))


def _at(part: Estimate, order: Any) -> Estimate:
    return Estimate(*(x[order] for x in part))


def _not_below_zero(part: Estimate) -> Estimate:
    return Estimate(*(np.where(np.isnan(x), np.nan, np.maximum(x, 0.0)) for x in part))
