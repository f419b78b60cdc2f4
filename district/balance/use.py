"""Use that no interval meter shows: allowances by class of use, with their spread."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from district.balance.limits import Z_95, Array, burst_moments
from district.settings import Allowance, Settings
from district.words import listed, percent, plural, whole

FALLBACK_CLASS = "household"


@dataclass(frozen=True, eq=False)
class Use:
    """Allowed use of each cell; arrays over the cells.

    `mean` and `systematic` (standard deviation of the true mean) in L/s (night) or m3/d (day);
    Of single draws, summed over classes: `burst` is the night mean times their mean square over
    their mean (L²/s), `cube` times their mean cube over their mean (L³/s), `unsure` is `burst`
    times the mean and the squared relative deviation of the mean (L³/s²).
    """

    mean: Array
    systematic: Array
    burst: Array
    assumptions: tuple[str, ...] = ()
    limits: tuple[str, ...] = ()
    cube: Array | float = 0.0
    unsure: Array | float = 0.0


def night_use(
    users: pd.DataFrame, cells: pd.Index[Any], *, homes: dict[str, str], settings: Settings
) -> Use:
    """Night use by allowance of `users` (as in `Metering`), and exceptional use, in L/s.

    The spread of a class's true mean is common to the class's users in a cell; classes and
    exceptional users are independent of each other. `homes` gives the cell of a zone_id.
    """
    classes, limits = _by_class(users, cells, settings)
    mean, variance, burst = _nothing(cells), _nothing(cells), _nothing(cells)
    cube, unsure = _nothing(cells), _nothing(cells)
    said: list[str] = []
    for name, rule, properties in classes:
        flow = properties * rule.l_property_h / 3600.0
        mean += flow
        variance += (flow * rule.spread_share / Z_95) ** 2
        square, third = burst_moments(rule.burst_l, spread_share=rule.burst_spread_share)
        burst += flow * square
        cube += flow * third
        unsure += flow**2 * square * (rule.spread_share / Z_95) ** 2
        said.append(
            f"Night use of {_counted(properties, name)} without an interval meter: "
            f"{rule.l_property_h:g} L/property/h, ±{percent(rule.spread_share)}."
        )
    for extra in settings.exceptional_use:
        at = cells.get_indexer([homes.get(extra.zone_id, extra.zone_id)])[0]
        if at < 0:
            limits.append(
                f"Exceptional use in {extra.zone_id} is not counted: no balanced zone has this id."
            )
            continue
        mean[at] += extra.flow_l_s
        variance[at] += (extra.flow_l_s * extra.spread_share / Z_95) ** 2
        said.append(
            f"Exceptional night use in {extra.zone_id}: {extra.flow_l_s:g} L/s, "
            f"±{percent(extra.spread_share)}{f' ({extra.note})' if extra.note else ''}."
        )
    return Use(mean, np.sqrt(variance), burst, tuple(said), tuple(limits), cube, unsure)


def day_use(users: pd.DataFrame, cells: pd.Index[Any], *, settings: Settings) -> Use:
    """Whole-day use by allowance of the `users` without any meter, in m3/d."""
    classes, _ = _by_class(users, cells, settings)
    mean, variance = _nothing(cells), _nothing(cells)
    said: list[str] = []
    for name, rule, properties in classes:
        volume = properties * rule.l_property_d / 1000.0
        mean += volume
        variance += (volume * rule.spread_share / Z_95) ** 2
        said.append(
            f"Day use of {_counted(properties, name)} without meter readings: "
            f"{whole(rule.l_property_d)} L/property/day, ±{percent(rule.spread_share)}."
        )
    return Use(mean, np.sqrt(variance), _nothing(cells), tuple(said))


def _nothing(cells: pd.Index[Any]) -> Array:
    return np.zeros(len(cells))


def _by_class(
    users: pd.DataFrame, cells: pd.Index[Any], settings: Settings
) -> tuple[list[tuple[str, Allowance, Array]], list[str]]:
    """Each class of use with its allowance and its properties by cell; what limits them."""
    strange, limits = _unknown(users, settings)
    groups = users.groupby(users["use_class"].where(~strange, FALLBACK_CLASS))
    classes = [
        (
            str(name),
            settings.allowances[str(name)],
            np.bincount(
                group["cell"], group["properties"].astype(float), minlength=len(cells)
            ).astype(float),
        )
        for name, group in groups
    ]
    return classes, limits


def _counted(properties: Any, name: object) -> str:
    return plural(int(properties.sum()), f"{name} property", f"{name} properties")


def _unknown(users: pd.DataFrame, settings: Settings) -> tuple[pd.Series[Any], list[str]]:
    strange = ~users["use_class"].isin(set(settings.allowances))
    names = sorted(set(users.loc[strange, "use_class"]) - {""})
    if not strange.any():
        return strange, []
    said = f"no allowance for {listed(names)}" if names else "no class of use"
    return strange, [
        f"Connections with {said}: {int(strange.sum())}; the {FALLBACK_CLASS} allowance is used. "
        "Add the class under [allowances] in district.toml."
    ]
