"""What the gap between two ways to real losses is explained from, and the nights' part of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from district.balance.annual import YEAR_D
from district.balance.grids import wide, wide_estimate
from district.balance.indicators import ratio
from district.balance.metering import Metering
from district.balance.night import NightBalance
from district.balance.summary import nights_of_year
from district.balance.volumes import Volumes
from district.estimates import Array, Estimate
from district.settings import Settings
from district.units import M3_PER_L_S_H

LEAST_M3 = 1e-9
"""Less than this in a year is nothing, and nothing is divided by it."""


@dataclass(frozen=True, eq=False)
class Scene:
    """What the causes are worked out from, over the cells of the annual balance.

    counted days x all balanced cells; `known` which of these are in the annual balance; `lines`
    of the annual balance by their words, the district first; `gap_m3` likewise; `night_flows`
    table NIGHT_FLOWS.
    """

    layout: Metering
    volumes: Volumes
    night: NightBalance
    night_flows: pd.DataFrame
    counted: Any
    known: Any
    lines: dict[str, Estimate]
    gap_m3: Array
    settings: Settings


def night_means(scene: Scene) -> tuple[Array, Array, Array]:
    """Of each cell: a year's leakage of one L/s at night, m3, the 95 % limit of that towards the
    gap, and its mean night leakage, L/s."""
    nights, cells = scene.night.nights, scene.layout.cells
    chosen = nights_of_year(nights, cells)[:, scene.known]

    def mean(values: Array) -> Array:
        held = np.where(chosen, values[:, scene.known], 0.0)
        return ratio(held.sum(axis=0), chosen.sum(axis=0))

    factor = Estimate(*(mean(x) for x in wide_estimate(nights, "night_day_factor_h_d", cells)))
    half = np.where(scene.gap_m3[1:] >= 0, factor.high - factor.value, factor.value - factor.low)
    scale = M3_PER_L_S_H * YEAR_D
    return factor.value * scale, half * scale, mean(wide(nights, "leakage_l_s", cells))


def per(one: Array) -> Callable[[Array], Array]:
    """What shows a volume in units of which one makes the volume `one`."""
    return lambda volume: ratio(volume, np.where(one > LEAST_M3, one, 0.0))
