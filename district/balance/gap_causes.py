"""What each input alone would have to be for the two ways to real losses to meet."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from district.balance.annual import YEAR_D, with_sum
from district.balance.gap_meters import meter_causes
from district.balance.gap_scene import LEAST_M3, Scene, night_means, per
from district.balance.grids import text
from district.balance.use import FALLBACK_CLASS
from district.estimates import Z_95, Array, Estimate
from district.units import M3_PER_L_S_H

ANY_SIGN = (-100.0, 100.0)
SHARE = (0.0, 100.0)
NOT_NEGATIVE = (0.0, np.inf)


@dataclass(frozen=True, eq=False)
class _Input:
    """An input by the volume of the year that hangs on it, district first.

    `sign` +1 where more of it closes a gap above zero, -1 where less does; `deviation` of the
    volume; `shown` makes a volume the input's own value; `span` what that value can be.
    """

    name: str
    unit: str
    volume: Array
    deviation: Array
    sign: int
    shown: Callable[[Array], Array]
    span: tuple[float, float]


def closing_values(scene: Scene) -> pd.DataFrame:
    """Rows of table GAP_CAUSES without rank and cell_id: `area` is the position, district 0.

    The closing value is what would make the gap nought with every other input as it is. Its
    distance is counted in the input's own standard deviations, on the side it would move to.
    """
    rows = [_rows(x, scene.gap_m3) for x in (*_of_the_year(scene), *_of_the_night(scene))]
    found = pd.concat([*rows, meter_causes(scene)], ignore_index=True)
    return found[np.isfinite(found["value"]) & np.isfinite(scene.gap_m3[found["area"]])]


def _rows(one: _Input, gap_m3: Array) -> pd.DataFrame:
    value = one.shown(one.volume)
    closing = one.shown(one.volume + one.sign * gap_m3)
    return pd.DataFrame(
        {
            "area": np.arange(len(gap_m3)),
            "input": one.name,
            "value": value,
            "closing_value": closing,
            "unit": one.unit,
            "deviations_index": per(one.deviation)(np.abs(gap_m3)),
            "possible": (closing >= one.span[0]) & (closing <= one.span[1]),
        }
    )


def _of_the_year(scene: Scene) -> Iterator[_Input]:
    """Inputs of the top-down side: shares, errors, and use by day without a meter."""
    lines, gap, annual = scene.lines, scene.gap_m3, scene.settings.annual

    def part(name: str, unit: str, whole: Array, span: tuple[float, float]) -> _Input:
        line = lines[name]
        return _Input(name, unit, line.value, _towards(line, gap), 1, per(whole / 100.0), span)

    supply = lines["system input volume"].value
    metered = lines["billed metered consumption"].value
    metered = metered + lines["unbilled metered consumption"].value
    yield part("unauthorised use", "% of system input", supply, SHARE)
    yield part("data handling error", "% of metered use", metered, ANY_SIGN)
    # Metered use of classes that are not billed stands apart: here what nobody metered.
    assumed = supply * annual.unbilled_unmetered_share
    yield _Input(
        "unbilled unmetered use",
        "% of system input",
        assumed,
        assumed * annual.assumed_spread_share / Z_95,
        1,
        per(supply / 100.0),
        SHARE,
    )
    missed = lines["customer meter under-registration"]
    share = annual.customer_under_registration_share
    if share > 0:
        read = missed.value * (1.0 - share) / share
        yield _Input(
            "customer meters read low",
            "%",
            missed.value,
            _towards(missed, gap),
            1,
            lambda v: np.where(read > LEAST_M3, 100.0 * per(v + read)(v), np.nan),
            ANY_SIGN,
        )
    bare = ~scene.layout.users["meter_id"].isin(set(scene.volumes.devices.ids))
    for name, properties in _classes(scene, bare):
        rule = scene.settings.allowances[name]
        homes = with_sum(properties)
        volume = homes * rule.l_property_d * YEAR_D / 1000.0
        yield _Input(
            f"{name} use without a meter",
            "L/property/day",
            volume,
            volume * rule.spread_share / Z_95,
            1,
            per(homes * YEAR_D / 1000.0),
            NOT_NEGATIVE,
        )


def _of_the_night(scene: Scene) -> Iterator[_Input]:
    """Inputs of the bottom-up side: use at night by allowance, and the night-to-day factor."""
    per_flow, half, leak = night_means(scene)
    bare = ~scene.layout.users["meter_id"].isin(set(scene.night.interval_meters))
    for name, properties in _classes(scene, bare):
        rule = scene.settings.allowances[name]
        each = with_sum(properties * per_flow / 3600.0)
        volume = each * rule.l_property_h
        yield _Input(
            f"{name} night use",
            "L/property/h",
            volume,
            volume * rule.spread_share / Z_95,
            -1,
            per(each),
            NOT_NEGATIVE,
        )
    cells = scene.layout.cells[scene.known]
    for extra in scene.settings.exceptional_use:
        home = scene.layout.homes.get(extra.zone_id, extra.zone_id)
        each = with_sum(np.where(cells == home, per_flow, 0.0))
        volume = each * extra.flow_l_s
        yield _Input(
            f"exceptional night use in {extra.zone_id}" + (f", {extra.note}" if extra.note else ""),
            "L/s",
            volume,
            volume * extra.spread_share / Z_95,
            -1,
            per(each),
            NOT_NEGATIVE,
        )
    by_hour = with_sum(leak) * M3_PER_L_S_H * YEAR_D
    yield _Input(
        "night-to-day factor",
        "h/day",
        with_sum(leak * per_flow),
        np.maximum(with_sum(leak * half), 0.0) / Z_95,
        1,
        per(by_hour),
        NOT_NEGATIVE,
    )


def _towards(line: Estimate, gap_m3: Array) -> Array:
    """Standard deviation of a line on the side that closes the gap."""
    return np.where(gap_m3 >= 0, line.high - line.value, line.value - line.low) / Z_95


def _classes(scene: Scene, which: Any) -> Iterator[tuple[str, Array]]:
    """Each class of these users, with its properties in each cell of the annual balance."""
    users = scene.layout.users[which]
    known = users["use_class"].isin(set(scene.settings.allowances))
    names = text(users["use_class"]).where(known, FALLBACK_CLASS)
    for name, group in users.groupby(names):
        count = np.bincount(
            group["cell"], group["properties"].astype(float), minlength=len(scene.layout.cells)
        )
        yield str(name), np.asarray(count, dtype=float)[scene.known]
