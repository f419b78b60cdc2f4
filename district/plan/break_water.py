"""Water that a break of a main lets out until it is shut, and leakage that is likely there now."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.break_rates import AT_PRESSURE_M, MAINS_BURSTS
from district.estimates import Estimate, by_group, of, product, scaled, within
from district.plan.parts import Parts
from district.settings import Settings
from district.units import M3_PER_L_S_H

RUN_TIMES_D = (3.0, 50.0)
"""Days that a break of a main runs: reported, and found by a survey, as `MAINS_BURSTS` goes.

Source: Lambert, Brown, Takizawa & Weimer 1999, J Water SRT - Aqua 48(6) 227 (from memory).
"""
WATER_SPREAD_SHARE = 0.5
"""How far the mean of a district's breaks may lie from theirs (95 %). Assumption: crews come sooner
or later, and bores differ."""
_HOURS_D = 24.0
_FLOW = ("flow_l_s", "flow_l_s_low", "flow_l_s_high")


def burst_water_m3(pressure_m: Any) -> Any:
    """Water of a break of a main, mean of reported and unreported ones by how often each comes.

    In proportion to `pressure_m`, as the flows are printed by pressure.

    >>> round(float(burst_water_m3(50.0)))
    1156
    """
    rates, flows_m3_h = np.array(MAINS_BURSTS).T
    each_m3 = flows_m3_h * _HOURS_D * np.array(RUN_TIMES_D)
    mean_m3 = float(np.average(each_m3, weights=rates))
    return np.asarray(pressure_m, dtype=float) / AT_PRESSURE_M * mean_m3


def zone_pressures(parts: Parts, zone_pressure: pd.DataFrame, *, settings: Settings) -> Estimate:
    """Pressure of each main, mean of its parts by length (table ZONE_PRESSURE by zone).

    The assumed pressure where a zone tells none. Zones of one main share gauges and assumptions:
    their limits add.
    """
    assumed = settings.pressure
    told = zone_pressure.drop_duplicates("cell_id").set_index("cell_id")
    own = told.reindex(parts.table["cell_id"])
    known = own["pressure_m"].notna().to_numpy()
    other = (assumed.assumed_m, max(assumed.assumed_m - assumed.assumed_spread_m, 0.0),
             assumed.assumed_m + assumed.assumed_spread_m)  # fmt: skip
    each = Estimate(
        *(np.where(known, x, y) for x, y in zip(of(own, "pressure_m"), other, strict=True))
    )
    count = parts.mains_count
    mean = by_group(each, parts.main, groups_count=count, as_one=True, weight=parts.share())
    found = parts.found()
    return Estimate(*(np.where(found, x, y) for x, y in zip(mean, other, strict=True)))


def break_water(pressure: Estimate) -> Estimate:
    """Water of a break of each main, m³, at its pressure."""
    published = within(
        np.full(len(pressure.value), burst_water_m3(1.0)), spread_share=WATER_SPREAD_SHARE
    )
    return product(published, pressure)


def hidden_leaks(parts: Parts, likelihood: pd.DataFrame, zone_pressure: pd.DataFrame) -> Estimate:
    """Leakage looked for that is likely on each main now, m³ a day (table LIKELIHOOD by part).

    The share of its zone's flow that is likely on a part, times that flow; so the mains of a zone
    together have what is looked for there. A copy of a main has none of its own. The flow is of the
    night: it is brought to the day by the pressures of table ZONE_PRESSURE and their exponent.
    Shares of the parts of one main rest on the same rates, so that their limits add; flow and
    share, and the flows of two zones, are independent.
    """
    told = likelihood.drop_duplicates("pipe_id").set_index("pipe_id")
    own = told.reindex(parts.table["part_id"])
    there = own["probability_share"].notna().to_numpy() & ~parts.copies[parts.main]
    own, main = own[there], parts.main[there]
    cells = parts.table["cell_id"].to_numpy()[there]
    keys = pd.DataFrame({"main": main, "cell": cells})
    group = keys.groupby(["main", "cell"]).ngroup().to_numpy(dtype=np.intp)
    count = int(group.max(initial=-1)) + 1
    first = np.unique(group, return_index=True)[1]
    share = by_group(of(own, "probability_share"), group, groups_count=count, as_one=True)
    flow = Estimate(*(own[name].to_numpy(dtype=float)[first] for name in _FLOW))
    flow = Estimate(*(np.maximum(np.nan_to_num(x), 0.0) for x in flow))
    by_day = scaled(flow, M3_PER_L_S_H * _HOURS_D * _day_over_night(cells[first], zone_pressure))
    each = product(share, by_day)
    return by_group(each, main[first], groups_count=parts.mains_count, as_one=False)


def _day_over_night(cells: Any, zone_pressure: pd.DataFrame) -> Any:
    """Leakage in the mean of the day over that of the night, 1 where no pressure tells it."""
    own = zone_pressure.drop_duplicates("cell_id").set_index("cell_id").reindex(cells)
    day, night, power = (
        own[c].to_numpy(dtype=float) for c in ("pressure_m", "night_pressure_m", "exponent_index")
    )
    usable = (day > 0) & (night > 0) & np.isfinite(power)
    ratio = np.where(usable, day, 1.0) / np.where(usable, night, 1.0)
    return ratio ** np.where(usable, power, 1.0)
