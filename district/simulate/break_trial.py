"""An invented record of breaks over many years, from rates of pipes that are known."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

Reals = np.ndarray[Any, np.dtype[np.float64]]

_LAID = {
    # From, to, share of the pipes, level (breaks for each km a year at 50 years of age).
    "cast_iron": (1890, 1965, 0.32, 0.30),
    "asbestos_cement": (1935, 1982, 0.15, 0.11),
    "steel": (1920, 1990, 0.06, 0.07),
    "ductile_iron": (1962, 2012, 0.19, 0.045),
    "pvc": (1968, 2020, 0.20, 0.03),
    "polyethylene": (1985, 2024, 0.08, 0.012),
}
_BORES_MM = (63.0, 80.0, 100.0, 150.0, 200.0, 300.0, 450.0)
_BORE_SHARES = (0.08, 0.17, 0.32, 0.23, 0.1, 0.07, 0.03)
_BORE_POWER = -0.45
_GROUNDS = {"clay": 0.45, "gravel": -0.2, "loam": 0.0, "made ground": 0.3}
_ZONES = 20
_ZONE_SPREAD = 0.25
_KM_MEAN, _KM_SHAPE = 0.12, 1.3


@dataclass(frozen=True, eq=False)
class BreakTrial:
    """A drawn register of pipes and its breaks.

    `pipes`: columns of layer PIPES but the geometry, by pipe_id; `cells` zone of each pipe by
    pipe_id; `breaks` table BREAKS from `first` to before `split` (calendar years); `later` breaks
    of each pipe from `split` to before `last`; `true_rate` breaks a year of each pipe in the
    year `split`, its own factor `own` included, `expected_before` and `expected_later` of each from
    `first` to `split` and from there to `last`.
    """

    pipes: pd.DataFrame
    cells: pd.Series[Any]
    breaks: pd.DataFrame
    later: pd.DataFrame
    true_rate: Reals
    own: Reals
    expected_before: Reals
    expected_later: Reals
    first: int
    split: int
    last: int


def draw_breaks_of_a_register(
    seed: int,
    *,
    pipes_count: int,
    breaks_count: float,
    first: int = 2004,
    split: int = 2019,
    last: int = 2025,
    growth_per_year: float = 0.035,
    unlike_index: float = 3.0,
) -> BreakTrial:
    """Draw a register and its breaks, `breaks_count` of them expected from `first` to `split`.

    Breaks go with material, bore, ground and zone, grow exponentially with age by
    `growth_per_year`, and pipes that look alike differ by a gamma factor of shape `unlike_index`.
    The record begins in `first`, whenever pipes were laid. Each calendar year of a pipe is Poisson
    at its middle age.
    """
    rng = np.random.default_rng([seed, 20_041_113])
    materials = list(_LAID)
    shares = np.array([_LAID[m][2] for m in materials])
    at = rng.choice(len(materials), pipes_count, p=shares / shares.sum())
    from_year, to_year, level = (
        np.array([_LAID[m][k] for m in materials], dtype=float)[at] for k in (0, 1, 3)
    )
    laid = np.floor(rng.uniform(from_year, to_year + 1)).astype(int)
    bore = rng.choice(_BORES_MM, pipes_count, p=_BORE_SHARES)
    length_m = np.round(1000 * _KM_MEAN * rng.gamma(_KM_SHAPE, 1 / _KM_SHAPE, pipes_count) + 3, 1)
    grounds = list(_GROUNDS)
    ground = rng.choice(len(grounds), pipes_count, p=[0.35, 0.25, 0.3, 0.1])
    zone = rng.integers(0, _ZONES, pipes_count)
    own = rng.gamma(unlike_index, 1 / unlike_index, pipes_count)
    logs = (
        np.log(level * length_m / 1000)
        + _BORE_POWER * np.log(bore / 150.0)
        + np.array(list(_GROUNDS.values()))[ground]
        + (_ZONE_SPREAD * rng.standard_normal(_ZONES))[zone]
    )
    years = np.arange(first, last)
    age = years[None, :] + 0.5 - (laid[:, None] + 0.5)
    rate = own[:, None] * np.exp(logs[:, None] + growth_per_year * (age - 50.0)) * (age >= 0)
    rate *= breaks_count / rate[:, years < split].sum()
    drawn = rng.poisson(rate)
    pipe, column = np.nonzero(drawn)
    repeat = drawn[pipe, column]
    pipe, column = np.repeat(pipe, repeat), np.repeat(column, repeat)
    day = rng.integers(0, 365, len(pipe))
    ids = np.array([f"R{n:06d}" for n in range(1, pipes_count + 1)], dtype=object)
    start = pd.to_datetime(pd.Series(years[column].astype(str)) + "-01-01")
    broke = pd.DataFrame(
        {"date": start + pd.to_timedelta(day, unit="D"), "pipe_id": ids[pipe], "kind": "main"}
    ).sort_values(["date", "pipe_id"], ignore_index=True)
    before = broke["date"] < pd.Timestamp(split, 1, 1)
    pipes = pd.DataFrame(
        {
            "pipe_id": ids,
            "material": np.array(materials, dtype=object)[at],
            "diameter_mm": bore,
            "installed_year": laid.astype(float),
            "length_m": length_m,
            "status": "in_use",
            "removed_year": np.nan,
            "ground": np.array(grounds, dtype=object)[ground],
            "street": "",
        }
    )
    return BreakTrial(
        pipes=pipes,
        cells=pd.Series([f"Z{z:02d}" for z in zone], index=ids),
        breaks=broke[before].reset_index(drop=True),
        later=broke[~before].reset_index(drop=True),
        true_rate=rate[:, split - first],
        own=own,
        expected_before=rate[:, years < split].sum(axis=1),
        expected_later=rate[:, years >= split].sum(axis=1),
        first=first,
        split=split,
        last=last,
    )
