"""Use that no interval meter shows: allowances by class of use, with their spread."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from district.balance.limits import burst_moments
from district.estimates import Z_95, Array
from district.settings import Allowance, Settings
from district.words import listed, percent, plural, whole

FALLBACK_CLASS = "household"


class UsePart(NamedTuple):
    """One class of use, or one exceptional user; arrays over the cells, units as in `Use`."""

    name: str
    mean: Array
    systematic: Array
    properties: Array
    """How many properties the allowance counts; 0 for an exceptional user."""
    setting: str
    """Where district.toml says it."""


@dataclass(frozen=True, eq=False)
class Use:
    """Allowed use of each cell; arrays over the cells.

    `mean` and `systematic` (standard deviation of the true mean) in L/s (night) or m3/d (day);
    Of single draws, summed over classes: `burst` is the night mean times their mean square over
    their mean (L²/s), `cube` times their mean cube over their mean (L³/s), `unsure` is `burst`
    times the mean and the squared relative deviation of the mean (L³/s²). `parts` is what `mean`
    is the sum of, and `systematic` the root sum of squares.
    """

    mean: Array
    systematic: Array
    burst: Array
    assumptions: tuple[str, ...] = ()
    limits: tuple[str, ...] = ()
    cube: Array | float = 0.0
    unsure: Array | float = 0.0
    parts: tuple[UsePart, ...] = ()


def night_use(
    users: pd.DataFrame, cells: pd.Index[Any], *, homes: dict[str, str], settings: Settings
) -> Use:
    """Night use by allowance of `users` (as in `Metering`), and exceptional use, in L/s.

    The spread of a class's true mean is common to the class's users in a cell; classes and
    exceptional users are independent of each other. `homes` gives the cell of a zone_id.
    """
    classes, limits = _by_class(users, cells, settings)
    burst, cube, unsure = _nothing(cells), _nothing(cells), _nothing(cells)
    parts: list[UsePart] = []
    said: list[str] = []
    for name, rule, properties in classes:
        flow = properties * rule.l_property_h / 3600.0
        parts.append(_part(name, flow, rule.spread_share, properties, f"[allowances.{name}]"))
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
        flow = _nothing(cells)
        flow[at] = extra.flow_l_s
        name = _own_name(extra.note or f"exceptional use in {extra.zone_id}", parts)
        parts.append(_part(name, flow, extra.spread_share, _nothing(cells), "[[exceptional_use]]"))
        said.append(
            f"Exceptional night use in {extra.zone_id}: {extra.flow_l_s:g} L/s, "
            f"±{percent(extra.spread_share)}{f' ({extra.note})' if extra.note else ''}."
        )
    return Use(*_added(parts, cells), burst, tuple(said), tuple(limits), cube, unsure, tuple(parts))


def day_use(users: pd.DataFrame, cells: pd.Index[Any], *, settings: Settings) -> Use:
    """Whole-day use by allowance of the `users` without any meter, in m3/d."""
    classes, _ = _by_class(users, cells, settings)
    parts: list[UsePart] = []
    said: list[str] = []
    for name, rule, properties in classes:
        volume = properties * rule.l_property_d / 1000.0
        parts.append(_part(name, volume, rule.spread_share, properties, f"[allowances.{name}]"))
        said.append(
            f"Day use of {_counted(properties, name)} without meter readings: "
            f"{whole(rule.l_property_d)} L/property/day, ±{percent(rule.spread_share)}."
        )
    return Use(*_added(parts, cells), _nothing(cells), tuple(said), parts=tuple(parts))


def _own_name(name: str, parts: list[UsePart]) -> str:
    """The name, numbered where another part has it: two users may go by one note."""
    taken = {part.name for part in parts}
    number = 2
    numbered = name
    while numbered in taken:
        numbered, number = f"{name} ({number})", number + 1
    return numbered


def _part(name: str, mean: Array, spread_share: float, properties: Array, setting: str) -> UsePart:
    return UsePart(name, mean, mean * spread_share / Z_95, properties, setting)


def _added(parts: list[UsePart], cells: pd.Index[Any]) -> tuple[Array, Array]:
    """The mean and its standard deviation: independent parts together."""
    mean, variance = _nothing(cells), _nothing(cells)
    for part in parts:
        mean += part.mean
        variance += part.systematic**2
    return mean, np.sqrt(variance)


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
