"""Where leaks fall in a drawn zone: a hidden hazard, the breaks of the past, and new leaks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from district.hydraulics.model import Reals, Wholes
from district.simulate.leak_trial_map import YEAR, ZONE, ZoneMap

WATCHED_YEARS = 20
_PER_100_MILES_YEAR = {
    "cast_iron": 34.8,
    "ductile_iron": 5.5,
    "pvc": 2.3,
    "polyethylene": 2.3,
    "asbestos_cement": 10.4,
    "steel": 7.6,
}
"""Breaks of mains. Source: Folkman 2018, Water Main Break Rates in the USA and Canada, Utah State
University (materials from memory; polyethylene taken as PVC, an assumption)."""
_KM_100_MILES = 160.9344
_SERVICE_PER_YEAR = 0.003
_PRIVATE_PER_M_YEAR = 0.002 / 15
"""Bursts of one connection, and of a metre of private pipe. Source: Lambert, Brown, Takizawa &
Weimer 1999, J Water SRT - Aqua 48(6) 227 (from memory)."""
_MAIN_L_S = ((0.95, 12.0 / 3.6), (0.05, 6.0 / 3.6))
_SERVICE_L_S = ((1.0, 1.6 / 3.6),)
"""Share and mean flow of bursts at 50 m, of mains and of connections. Same source (from memory;
mains: reported, and found by a survey)."""
_FLOW_SPREAD = 0.8
_OTHER_SHARE, _OTHER_L_S, _OTHER_SPREAD = 0.2, 1.2, 1.5
"""Spread of the logarithm of a burst's flow, and leaks that are no such burst, of any size whether
on a main or not. Assumptions."""


@dataclass(frozen=True, eq=False)
class Hazard:
    """True leaks a year: mains_per_year by main and taps_per_year by connection of a `ZoneMap`."""

    mains_per_year: Reals
    taps_per_year: Reals


def draw_hazard(rng: np.random.Generator, drawn: ZoneMap) -> Hazard:
    """Draw what the district, each material, each main and each connection is truly prone to.

    Published means, times a level of the zone (gamma, shape 1.5), of the material (8) and of the
    main (2), growth with age of 2 % a year about 50 years (95 % limit another 2 %), and bore to
    the power -0.3 (0.3). The shapes are assumptions, the same as location makes, so that
    what it says of its own certainty can be held against many trials.
    """
    pipes = drawn.pipes
    kinds, kind = np.unique(pipes["material"].to_numpy(dtype=str), return_inverse=True)
    rate = np.array([_PER_100_MILES_YEAR[k] for k in kinds])[kind] / _KM_100_MILES
    age = (YEAR - pipes["installed_year"].to_numpy() - 50.0).clip(-60.0, 60.0)
    bore = pipes["diameter_mm"].to_numpy().clip(50.0, 600.0) / 150.0
    proneness = (
        _unlike(rng, 1.5, 1)[0] * _unlike(rng, 8.0, len(kinds))[kind] * _unlike(rng, 2.0, len(kind))
    )
    by_age = np.exp(rng.normal(0.02, 0.02 / 1.96) * age)
    by_bore = bore ** -rng.normal(0.3, 0.3 / 1.96)
    mains = rate * pipes["length_m"].to_numpy() / 1000 * proneness * by_age * by_bore
    mains[(pipes["cell_id"] != ZONE).to_numpy()] = 0.0
    beside = _unlike(rng, 1.5, 1)[0] * _unlike(rng, 2.0, len(pipes))
    taps = drawn.taps
    services = _SERVICE_PER_YEAR + _PRIVATE_PER_M_YEAR * taps["private_pipe_m"].to_numpy()
    return Hazard(mains, services * beside[taps["pipe"].to_numpy()])


def draw_breaks(rng: np.random.Generator, drawn: ZoneMap, hazard: Hazard) -> pd.DataFrame:
    """Table BREAKS of the years before: each main and connection at its own rate."""
    parts = []
    on_taps = np.bincount(drawn.taps["pipe"], hazard.taps_per_year, len(drawn.pipes))
    laid = drawn.pipes["installed_year"].to_numpy()
    watched = (YEAR - laid - 1.0).clip(0.0, WATCHED_YEARS)
    for kind, rate in (("main", hazard.mains_per_year), ("service", on_taps)):
        pipe = np.repeat(np.arange(len(rate)), rng.poisson(rate * watched))
        ago_d = rng.uniform(0.0, watched[pipe]) * 365.25
        day = pd.Timestamp(f"{YEAR}-01-01") - pd.to_timedelta(np.ceil(ago_d), unit="D")
        parts.append(
            pd.DataFrame({"date": day, "pipe_id": drawn.pipes.index.to_numpy()[pipe], "kind": kind})
        )
    return pd.concat(parts).sort_values(["date", "pipe_id"], ignore_index=True)


def draw_places(
    rng: np.random.Generator, drawn: ZoneMap, hazard: Hazard, *, count: int, flow_l_s: float
) -> pd.DataFrame:
    """Draw leaks of one flow: kind ('main' or 'service'), pipe (row of pipes), share along it.

    Any place at its own rate and as likely as the flow is there: bursts of mains pass more than
    those of connections. On a main anywhere along it, of a connection where it leaves its main.
    """
    rate = np.concatenate(
        [
            hazard.mains_per_year * _density(flow_l_s, _MAIN_L_S),
            hazard.taps_per_year * _density(flow_l_s, _SERVICE_L_S),
        ]
    )
    at: Wholes = rng.choice(len(rate), size=count, p=rate / rate.sum())
    mains = len(hazard.mains_per_year)
    main = at < mains
    tap = drawn.taps.iloc[np.where(main, 0, at - mains)]
    return pd.DataFrame(
        {
            "kind": np.where(main, "main", "service").astype(object),
            "pipe": np.where(main, at, tap["pipe"].to_numpy()),
            "share": np.where(main, rng.uniform(0.01, 0.99, count), tap["share"].to_numpy()),
        }
    )


def _density(flow_l_s: float, bursts: tuple[tuple[float, float], ...]) -> float:
    """Of the logarithm of a leak's flow, up to a constant; each flow is a lognormal's mean."""
    log = np.log(flow_l_s)
    own = sum(
        share * _normal(log - np.log(usual) + _FLOW_SPREAD**2 / 2, _FLOW_SPREAD)
        for share, usual in bursts
    )
    other = _normal(log - np.log(_OTHER_L_S), _OTHER_SPREAD)
    return (1 - _OTHER_SHARE) * own + _OTHER_SHARE * other


def _normal(off: float, spread: float) -> float:
    return float(np.exp(-((off / spread) ** 2) / 2) / spread)


def _unlike(rng: np.random.Generator, shape: float, count: int) -> Reals:
    """Factors with mean 1, the less alike the smaller the shape."""
    return np.asarray(rng.gamma(shape, 1.0 / shape, count))
