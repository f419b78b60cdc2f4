"""Mass with tanks inside zones: what comes in is used, lost, left over or stored."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
from hypothesis import given
from hypothesis import strategies as st

from district.network import Network
from district.results import Reduced
from tests.properties.test_mass import (
    DAYS,
    FEW,
    World,
    balanced,
    name_of,
    network_of,
    points,
    reduced_of,
    worlds,
)

RISE = st.floats(-40, 40, allow_nan=False).map(lambda x: round(x, 3))


@st.composite
def tanked(draw: Any) -> tuple[World, dict[int, tuple[float, ...]], dict[int, tuple[float, ...]]]:
    """Zones, and of some what rises in a tank there: L/s by night and m³ by day."""
    world = draw(worlds())
    having = draw(st.sets(st.integers(0, len(world.feeds) - 1), min_size=1))
    rows = st.tuples(*[RISE] * len(DAYS))
    return world, {z: draw(rows) for z in having}, {z: draw(rows) for z in having}


def with_tanks(network: Network, zones: list[int]) -> Network:
    rows = {"kind": "tank_level", "cell_id": [name_of(z) for z in zones], "surface_m2": 50.0}
    sensors = network.sensors.assign(surface_m2=np.nan)
    own = points(rows, [f"T{z}" for z in zones]).assign(elevation_m=np.nan)
    return replace(network, sensors=pd.concat([sensors, own]))


def rising(
    reduced: Reduced, night: dict[int, tuple[float, ...]], day: dict[int, tuple[float, ...]]
) -> Reduced:
    def more(table: pd.DataFrame, rises: dict[int, tuple[float, ...]], net: str) -> pd.DataFrame:
        first = table[table["device_id"] == "M0"]
        own = [first.assign(device_id=f"T{z}", **{net: list(r)}) for z, r in rises.items()]
        return pd.concat([table, *own], ignore_index=True)

    return replace(
        reduced,
        night_flows=more(reduced.night_flows, night, "flow_l_s"),
        daily_volumes=more(reduced.daily_volumes, day, "volume_m3"),
    )


@given(tanked())
@FEW
def test_what_leaves_the_source_comes_in_or_is_stored(drawn: Any) -> None:
    world, night, day = drawn
    network = with_tanks(network_of(world), list(night))
    found = balanced(network, rising(reduced_of(world), night, day))
    first = [i for i, f in enumerate(world.feeds) if f < 0]
    for table, key, column, flows, rises in (
        (found.nights, "night", "inflow_l_s", world.night_l_s, night),
        (found.days, "day", "inflow_m3", world.day_m3, day),
    ):
        supplied = np.sum([flows[i] for i in first], axis=0) - np.sum(list(rises.values()), axis=0)
        inflow = table.groupby(key)[column].sum()
        np.testing.assert_allclose(inflow, supplied, rtol=0, atol=1e-9)
    days = found.days
    total = days["consumption_m3"] + days["losses_m3"] + days["residual_m3"]
    np.testing.assert_allclose(total, days["inflow_m3"], rtol=0, atol=1e-9)
    volume = found.annual.set_index(["cell_id", "component"])["volume_m3"]
    np.testing.assert_allclose(
        volume["district", "system input volume"], supplied.mean() * 365, rtol=1e-9, atol=1e-6
    )


@given(tanked())
@FEW
def test_a_tank_is_a_meter_out_of_its_zone(drawn: Any) -> None:
    """Its rise taken off the zone's own inlet instead gives the same flows, but for the limits."""
    world, night, day = drawn
    with_levels = balanced(
        with_tanks(network_of(world), list(night)), rising(reduced_of(world), night, day)
    )

    def less(flows: Any, rises: Any) -> Any:
        zones = range(len(world.feeds))
        below = {z: np.zeros(len(DAYS)) for z in zones}
        for zone in reversed(zones):
            below[zone] = below[zone] + np.array(rises.get(zone, 0.0))
            if world.feeds[zone] >= 0:
                below[world.feeds[zone]] = below[world.feeds[zone]] + below[zone]
        return tuple(tuple(np.array(flows[z]) - below[z]) for z in zones)

    drier = replace(world, night_l_s=less(world.night_l_s, night), day_m3=less(world.day_m3, day))
    found = balanced(network_of(drier), reduced_of(drier))
    for name, columns in (
        ("nights", ["inflow_l_s", "leakage_l_s", "excess_l_s", "leakage_m3_d"]),
        ("days", ["inflow_m3", "consumption_m3", "losses_m3", "residual_m3"]),
        ("annual", ["volume_m3"]),
    ):
        for column in columns:
            np.testing.assert_allclose(
                getattr(found, name)[column],
                getattr(with_levels, name)[column],
                rtol=1e-9,
                atol=1e-6,
                err_msg=column,
            )


@given(worlds())
@FEW
def test_a_tank_that_stands_still_changes_nothing_but_the_limits(world: World) -> None:
    still = {0: (0.0,) * len(DAYS)}
    network = network_of(world)
    plain = balanced(network, reduced_of(world))
    found = balanced(with_tanks(network, [0]), rising(reduced_of(world), still, still))
    limits = [c for c in plain.nights if c.endswith(("_low", "_high"))]
    pd.testing.assert_frame_equal(
        found.nights.drop(columns=limits), plain.nights.drop(columns=limits), atol=1e-9
    )
