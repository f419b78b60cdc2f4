"""How each zone's leakage follows its pressure, as far as its own record tells."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.balance.exponent_fit import SURVEYED, Fit, fit_exponent
from district.balance.grids import ENDS, days_of, estimate_in, in_columns, wide
from district.balance.leak_law import FIXED, VARIABLE, Form, Law, law_near, usual_law
from district.balance.night import NightBalance
from district.balance.pressure import zone_pressures
from district.balance.summary import usable_nights
from district.estimates import Z_95, Estimate
from district.network import Network
from district.schema.pressures import ZONE_EXPONENTS
from district.settings import Settings
from district.words import brief, figure, plural

LITTLE_WEIGHT = 0.1
"""Where the usual exponent weighs less than this, the record is said to tell it."""


def zone_exponents(
    night: NightBalance, *, pressures: pd.DataFrame, settings: Settings, cells: pd.Index[Any]
) -> pd.DataFrame:
    """Table ZONE_EXPONENTS: the usual exponent, or what the zone's record adds to it.

    Parameters: `night` from `night_balance`; `pressures` from `zone_pressures`, covering its
    nights; `cells` of both. Read from changes of night pressure only (see `fit_exponent`), on
    measured nights without works. A fit is used where its limits are narrower than the usual
    ones: the two are then averaged, each weighted by one over its variance, so that a poor
    record moves the usual exponent little and a good one replaces it. With
    `settings.pressure.fit` off the usual exponent stands everywhere.
    """
    usable = usable_nights(night.nights, cells)
    flow = wide(night.nights, "leakage_l_s", cells)
    random = wide(night.spreads, "leakage_random_l_s", cells)
    systematic = wide(night.spreads, "leakage_systematic_l_s", cells)
    nights = days_of(night.nights["night"]).unique()
    on = pressures[days_of(pressures["day"]).isin(nights)]
    pressure = wide(on if len(nights) else pressures, "night_pressure_m", cells)
    spread = wide(on if len(nights) else pressures, "spread_m", cells)
    loggers = wide(on, "loggers_count", cells)
    head = _median(pressure)
    usual = law_near(usual_law(settings.pressure), head)
    rows = []
    for at, cell in enumerate(cells):
        ends = Estimate(*(e[at] for e in usual.exponent))
        logged = usable[:, at] & (loggers[:, at] > 0) if len(nights) else np.zeros(0, dtype=bool)
        found: Fit | str = "No pressure logger"
        if not settings.pressure.fit:
            found = "The settings leave the record aside"
        elif logged.any():
            found = fit_exponent(
                np.where(logged, flow[:, at], np.nan),
                random_l_s=random[:, at],
                systematic_l_s=systematic[:, at],
                pressure_m=pressure[:, at],
                spread_m=spread[:, at],
                loggers_count=loggers[:, at],
                most_deviation=_deviation(ends),
            )
        rows.append({"cell_id": cell, "pressure_m": head[at]} | _row(found, ends, usual.form))
    table = pd.DataFrame(rows, columns=list(ZONE_EXPONENTS.names()))
    return table


def zone_law(exponents: pd.DataFrame, *, form: Form, cells: pd.Index[Any]) -> Law:
    """The law of the cells from their rows of table ZONE_EXPONENTS."""
    rows = exponents.set_index("cell_id").loc[cells]
    return Law(form, estimate_in(rows, "exponent_index"), rows["pressure_m"].to_numpy(dtype=float))


def fitted_pressures(
    network: Network,
    hourly: pd.DataFrame,
    *,
    pressures: pd.DataFrame,
    exponents: pd.DataFrame,
    settings: Settings,
) -> pd.DataFrame:
    """`pressures` from `zone_pressures` with the factor made anew where the record told something.

    Parameters: `hourly` table HOURLY_PRESSURES, `exponents` table ZONE_EXPONENTS.
    """
    told = exponents.loc[exponents["rests_on"] != "default", "cell_id"]
    if told.empty:
        return pressures
    cells = pd.Index(told, dtype=object)
    law = zone_law(exponents, form=settings.pressure.form, cells=cells)
    days = days_of(pressures["day"]).unique()
    again, _ = zone_pressures(network, hourly, settings=settings, cells=cells, days=days, law=law)
    changed = pressures.copy()
    # Both are cell by cell in the order of the cells, so the rows answer to each other.
    names = [f"night_day_factor_h_d{end}" for end in ENDS]
    changed.loc[pressures["cell_id"].isin(cells), names] = again[names].to_numpy()
    return changed


def exponents_said(exponents: pd.DataFrame) -> tuple[str, ...]:
    """One sentence on each zone whose record told its exponent."""
    told = exponents[exponents["rests_on"] != "default"]
    return tuple(
        f"Leakage and pressure of {cell}: {said}"
        for cell, said in zip(told["cell_id"], told["basis"], strict=True)
    )


def _median(values: Any) -> Any:
    return np.asarray(pd.DataFrame(values).median().to_numpy(dtype=float))


def _deviation(limits: Estimate) -> float:
    return float((limits.high - limits.low) / (2 * Z_95))


def _row(found: Fit | str, usual: Estimate, form: Form) -> dict[str, Any]:
    if isinstance(found, str):
        return _three("exponent_index", usual) | {
            "rests_on": "default",
            "basis": f"{found}: the usual exponent {_usual_told(usual)} stands.",
        }
    fitted = found.limits()
    told = {
        "changes_count": found.changes_count,
        "nights_count": found.nights_count,
        "pressure_range_m": found.range_m,
        **_three("fitted_index", fitted),
    }
    record = f"{plural(found.changes_count, 'change')} of night pressure over "
    record += f"{brief(found.range_m)} m tell {_shown(fitted)}"
    least, most = SURVEYED
    if not least <= found.exponent <= most:
        said = f"{record}, outside what surveys of zones found ({least:g} to {most:g})"
        return _row(said, usual, form) | told
    prior = 1.0 / max(_deviation(usual), 1e-9) ** 2
    weight = 1.0 / found.deviation**2
    value = (prior * usual.value + weight * found.exponent) / (prior + weight)
    half = Z_95 / np.sqrt(prior + weight)
    ends = np.array([value, value - half, value + half])
    low, high = (FIXED, VARIABLE) if form != "power" else (0.0, np.inf)
    together = Estimate(*np.clip(ends, low, high))
    alone = prior / (prior + weight) < LITTLE_WEIGHT
    also = f"the usual exponent {_usual_told(usual)} is weighed in by its variance"
    return (
        _three("exponent_index", together)
        | told
        | {
            "rests_on": "fitted" if alone else "both",
            "basis": f"{record}; {also}{', which is little' if alone else ''}.",
        }
    )


def _three(name: str, limits: Estimate) -> dict[str, float]:
    return {key: float(x) for key, x in in_columns({name: limits}).items()}


def _shown(exponent: Estimate) -> str:
    value, low, high = (float(e) for e in exponent)
    return figure(value, low, high, "fitted_index")


def _usual_told(exponent: Estimate) -> str:
    # A setting: shown as it was set, not as its limits support.
    value, low, high = (f"{float(e):.3g}" for e in exponent)
    return f"{value} ({low} to {high})"
