"""Equations of the hand-typed district."""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from shapely.geometry import Point

from district.balance.equations import equations, sides, valves_between
from district.balance.metering import metering
from district.balance.night import night_balance
from district.balance.pressure import zone_pressures
from district.balance.volumes import daily_volumes


@pytest.fixture
def known(make_network: Any, make_reduced: Any, settings: Any, no_works: Any, nights: Any) -> Any:
    network, reduced = make_network(), make_reduced()
    works = no_works.reindex(range(1)).assign(
        start=pd.Timestamp("2026-03-05T22:00Z"),
        end=pd.Timestamp("2026-03-06T03:00Z"),
        kind="flushing",
        place_id="North",
    )
    layout = metering(network)
    volumes = daily_volumes(network, layout, reduced.daily_volumes, settings=settings)
    pressures, _ = zone_pressures(
        network, reduced.hourly_pressures, settings=settings, cells=layout.cells, days=nights
    )
    return equations(
        layout,
        reduced.night_flows,
        night=night_balance(network, reduced, settings=settings, works=works),
        volumes=volumes,
        pressures=pressures,
        days=nights,
    )


def test_day_and_night_are_inflow_less_use(known: Any) -> None:
    north, south = known.cells.get_indexer(["North", "South"])
    # Night: 1.0 - 0.4 L/s in, 0.2 by the building meter, allowances for the others.
    assert known.night_l_s[0, north] < 0.6 - 0.2
    assert known.night_l_s[0, south] < 0.4
    # Day: 50 m3 in, 10 by the customer's meter, 350 L a day for 31 properties without one.
    use = 10.0 + 0.35 * 31
    assert known.day_l_s[0, south] == pytest.approx((50.0 - use) / 86.4)
    assert known.use_l_s[south] == pytest.approx(use / 86.4)
    assert known.night_flow_l_s[3] == pytest.approx([1.0, 0.4])
    assert known.day_flow_l_s[3] == pytest.approx([130 / 86.4, 50 / 86.4])
    assert known.factor_share == pytest.approx(1.0, abs=0.15)
    assert known.metered_share == pytest.approx(0.0)


def test_nights_and_days_with_works_are_not_known(known: Any) -> None:
    north, south = known.cells.get_indexer(["North", "South"])
    lost = np.flatnonzero(np.isnan(known.night_l_s[:, north]))
    assert list(lost) == [5]
    assert list(np.flatnonzero(np.isnan(known.day_l_s[:, north]))) == [5]
    assert np.isfinite(known.night_l_s[:, south]).all()


def test_sides_of_the_meters(make_network: Any) -> None:
    layout = metering(make_network())
    upstream, downstream = sides(layout)
    north, south = layout.cells.get_indexer(["North", "South"])
    assert list(upstream) == [-1, north]
    assert list(downstream) == [north, south]


def test_valves_recorded_shut_part_cells(make_network: Any) -> None:
    plain = make_network()
    pipes = plain.pipes.assign(start_position=[0, 1, 2], end_position=[1, 2, 3])
    nodes = gpd.GeoDataFrame(
        {"cut": ["", "M1", "X1", ""]}, geometry=[Point(i, 0) for i in range(4)], crs=32630
    )
    assert valves_between(make_network(nodes=nodes, pipes=pipes)) == {("North", "South"): ("X1",)}
    assert valves_between(plain) == {}
