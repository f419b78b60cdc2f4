"""Tests of `district.locate.spots`."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from shapely.geometry import LineString, Point

from district.locate.prior import leak_prior
from district.locate.spots import Evidence, Spots, spots_of
from district.network import Network

Make = Callable[..., Any]


def test_evidence_counts_unless_said_otherwise() -> None:
    said = Evidence("E1", "survey", "walked, nothing found", np.zeros(3))
    assert said.used
    assert said.pairs is None


@pytest.fixture
def street(network_of: Make) -> Network:
    """Two pipes of 100 m in a line; one connection 32 m along the first, one off the map."""
    network = network_of(
        pd.DataFrame({"pipe_id": ["A", "B"], "length_m": [100.0, 95.0], "connections_count": 1})
    )
    lines = [LineString([(0, 0), (100, 0)]), LineString([(100, 0), (195, 0)])]
    taps = network.connections.set_geometry(
        gpd.GeoSeries([Point(32, 20), Point(150, 5)], network.connections.index, crs=32630)
    )
    return replace(
        network,
        pipes=network.pipes.set_geometry(gpd.GeoSeries(lines, network.pipes.index, crs=32630)),
        connections=taps.assign(pipe_id=["A", ""]),
    )


def made(network: Network, breaks: pd.DataFrame) -> tuple[pd.DataFrame, Spots]:
    prior = leak_prior(network, breaks, year=2024)
    return prior.table, spots_of(network, prior)


def test_spots_stand_in_the_middle_of_equal_lengths(street: Network, breaks_of: Make) -> None:
    _, spots = made(street, breaks_of([]))
    assert list(np.bincount(spots.pipe)) == [10, 10]
    np.testing.assert_allclose(spots.x_m[:10], np.arange(5, 100, 10))
    np.testing.assert_allclose(spots.length_m, np.repeat([10.0, 9.5], 10))
    np.testing.assert_allclose(spots.y_m, 0)
    assert set(spots.cell_id) == {"V1"}


def test_leaks_of_a_connection_are_where_it_taps(street: Network, breaks_of: Make) -> None:
    table, spots = made(street, breaks_of([("2020-01-01", "A")]))
    by_pipe = np.bincount(spots.pipe, spots.leaks_per_year)
    np.testing.assert_allclose(by_pipe, table["leaks_per_year"])
    assert list(np.flatnonzero(spots.service_share)) == [3]
    service = spots.service_share[3] * spots.leaks_per_year[3]
    assert service == pytest.approx(table["service_leaks_per_year"]["A"])
    np.testing.assert_allclose(np.delete(spots.leaks_per_year[:10], 3), spots.leaks_per_year[0])


def test_a_pipe_without_length_still_has_a_spot(network_of: Make, breaks_of: Make) -> None:
    network = network_of(pd.DataFrame({"pipe_id": ["A", "B"], "length_m": [0.0, 31.0]}))
    _, spots = made(network, breaks_of([]))
    assert list(np.bincount(spots.pipe)) == [1, 4]
