"""Real losses apportioned to mains and service pipes: nobody measures them apart."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.balance.annual import with_sum
from district.balance.background import background_l_s
from district.balance.indicators import ratio
from district.balance.performance import mean_pressure_m
from district.estimates import Array, Estimate, combine_limits, multiply_limits
from district.network import Network
from district.settings import Background, Settings

MAINS_BURSTS, CONNECTION_BURSTS, PRIVATE_BURSTS = 8.4, 0.20, 9.0
"""Reported and unreported parts of the unavoidable losses, L/day for each metre of pressure: by km
of mains, by connection, by km of private pipe. Lambert et al. 1999, J Water SRT - Aqua 48(6) (from
memory; the American figures of Thornton, Sturm & Kunkel 2008, table 7.2, agree)."""
ODDS_FACTOR = 2.0
"""How far the true odds of mains against service pipes may lie from those of the components,
either way (95 %); no source."""


def mains_share(
    losses_m3_d: Any,
    *,
    mains_km: Any,
    connections_count: Any,
    private_km: Any,
    pressure_m: Any,
    background: Background,
) -> Estimate:
    """The share of these losses that is on mains, with wide limits; arrays of one shape.

    Background leakage by its components at `pressure_m`, what the losses are above it by the
    split of bursts in the unavoidable losses. An apportionment, not a measurement: its limits
    span the splits of both, with the odds of each halved and doubled. NaN where there are no
    pipes.
    """
    losses = np.asarray(losses_m3_d, dtype=float)
    km, count, private = (np.asarray(x, float) for x in (mains_km, connections_count, private_km))

    def daily(mains: Array, taps: Array, pipe: Array) -> Array:
        flow = background_l_s(
            mains,
            connections_count=taps,
            private_km=pipe,
            pressure_m=pressure_m,
            background=background,
            condition_factor=background.condition_factor,
        )
        return flow * 86.4

    on_mains, on_services = daily(km, 0 * count, 0 * private), daily(0 * km, count, private)
    bursts = MAINS_BURSTS * km
    late = ratio(bursts, bursts + CONNECTION_BURSTS * count + PRIVATE_BURSTS * private)
    early = ratio(on_mains, on_mains + on_services)
    # Without pressure there is no background to split by.
    early = np.where(np.isnan(early), late, early)
    above = losses - on_mains - on_services
    value = np.where(
        above > 0,
        ratio(on_mains + np.maximum(above, 0.0) * late, np.where(above > 0, losses, 0.0)),
        early,
    )
    return Estimate(
        value,
        _odds(np.minimum(early, late), 1 / ODDS_FACTOR),
        _odds(np.maximum(early, late), ODDS_FACTOR),
    )


def _odds(share: Array, factor: float) -> Array:
    """The share whose odds are `factor` times those of `share`."""
    return np.asarray(share * factor / (1.0 - share + share * factor))


def losses_by_part(
    network: Network,
    *,
    supply: Estimate,
    real: Estimate,
    pressure: Estimate,
    cells: pd.Index[Any],
    settings: Settings,
) -> dict[str, Estimate]:
    """Real losses on mains, of tanks and on service pipes, the district first, m3/d.

    Parameters: `supply` and `real` m3/d of the district and then of each of `cells`; `pressure` m
    of the cells. Tanks are told for the district alone and shared out by input. The district's
    parts are the sums of its cells', with the limits that its own real losses and sizes give.
    """
    put_in = np.maximum(supply.value[1:], 0.0)
    even = np.full(len(cells), 1.0 / len(cells))
    part = np.append(1.0, put_in / put_in.sum() if put_in.sum() > 0 else even)
    spread = settings.annual.assumed_spread_share
    lost = settings.annual.tank_losses_m3_d * part
    tanks = Estimate(lost, lost * max(0.0, 1 - spread), lost * (1 + spread))
    sizes = network.cells.reindex(cells)
    km, count, private = (
        with_sum(sizes[n].to_numpy(dtype=float))
        for n in ("mains_km", "connections_count", "private_km")
    )
    share = mains_share(
        real.value - lost,
        mains_km=km,
        connections_count=count,
        private_km=private,
        pressure_m=np.append(mean_pressure_m(pressure.value, count[1:]), pressure.value),
        background=settings.background,
    )
    mains, services = (_as_sum(x) for x in split_losses(real, tanks, share))
    return {"mains": mains, "tanks": tanks, "services": services}


def split_losses(real: Estimate, tanks: Estimate, share: Estimate) -> tuple[Estimate, Estimate]:
    """Losses on mains and on service pipes: the real losses less those of tanks, by `share`."""
    piped = combine_limits(real, tanks, signs=(1, -1))
    rest = Estimate(1.0 - share.value, 1.0 - share.high, 1.0 - share.low)
    return multiply_limits(piped, share), multiply_limits(piped, rest)


def _as_sum(part: Estimate) -> Estimate:
    """The district's value (first) made the sum of the others, its limits moved with it."""
    shift = np.zeros(len(part.value))
    shift[0] = np.nansum(part.value[1:]) - part.value[0]
    return Estimate(*(p + shift for p in part))
