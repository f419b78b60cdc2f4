"""The reconciliation of a district's nested meters, from its balance to its tables."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from district.balance.closing import closing
from district.balance.contest import Pairs
from district.balance.equations import Equations, equations, valves_between
from district.balance.meter_checks import meter_checks, without_meter
from district.balance.meter_faults import find_faults
from district.balance.metering import Metering, metering
from district.balance.night import NightBalance
from district.balance.volumes import Volumes
from district.balance.zone_checks import zone_checks
from district.estimates import Z_95, Array
from district.network import Network
from district.results import Reduced
from district.settings import Settings
from district.words import listed


@dataclass(frozen=True, eq=False)
class Nested:
    """Tables METER_CHECKS, ZONE_CHECKS and WITHOUT_METER, and what limits them."""

    meter_checks: pd.DataFrame
    zone_checks: pd.DataFrame
    without_meter: pd.DataFrame
    limits: tuple[str, ...]


def reconcile_meters(
    network: Network,
    reduced: Reduced,
    *,
    night: NightBalance,
    volumes: Volumes,
    pressures: pd.DataFrame,
    days: pd.DatetimeIndex,
    settings: Settings,
    layout: Metering | None = None,
) -> Nested:
    """Check every zone meter and zone against those beside it, now and over the record.

    `layout` is that of the network, made here if not given.

    Parameters: `night`, `volumes` and `pressures` of the same balance; `days` covers all.
    """
    layout = layout or metering(network)
    known = equations(
        layout, reduced.night_flows, night=night, volumes=volumes, pressures=pressures, days=days
    )
    pairs = touching_pairs(network, known)
    faults = find_faults(known, pairs=pairs)
    closed = closing(
        known,
        layout,
        night=night,
        volumes=volumes,
        factor_deviation_share=_factor_deviation(pressures, known),
        recent_days=settings.night.recent_nights,
    )
    checks = meter_checks(known, closed, faults)
    # A tank is a flow to the balance, but no meter to be checked.
    checks = checks[checks["meter_id"].isin(set(network.boundaries["meter_id"]))]
    said = []
    off = listed(checks.loc[checks["verdict"] == "off", "meter_id"])
    if off:
        said.append(
            f"Readings of {off} disagree with the meters beside it: figures of the zones on both "
            "sides are off with it."
        )
    return Nested(
        checks,
        zone_checks(known, closed, faults, pairs=pairs),
        without_meter(known, layout, night, faults),
        tuple(said),
    )


def touching_pairs(network: Network, known: Equations) -> Pairs:
    """Pairs of balanced cells with a zone meter or a valve recorded shut between them."""
    place = {str(c): i for i, c in enumerate(known.cells)}
    valves: dict[tuple[int, int], tuple[str, ...]] = {}
    for up, down in zip(known.upstream, known.downstream, strict=True):
        if up >= 0 and down >= 0:
            valves[min(int(up), int(down)), max(int(up), int(down))] = ()
    for (one, two), between in valves_between(network).items():
        if one in place and two in place:
            pair = min(place[one], place[two]), max(place[one], place[two])
            valves[pair] = between
    return Pairs(
        np.array([p[0] for p in valves], dtype=int),
        np.array([p[1] for p in valves], dtype=int),
        tuple(valves.values()),
    )


def _factor_deviation(pressures: pd.DataFrame, known: Equations) -> Array:
    name = "night_day_factor_h_d"
    wide = pressures[f"{name}_high"] - pressures[f"{name}_low"]
    mean = wide.groupby(pressures["cell_id"]).mean().reindex(known.cells).fillna(0.0)
    return np.asarray(mean.to_numpy(dtype=float) / 2 / Z_95 / 24.0)
