"""Which cells are balanced, with which meters and users."""

from __future__ import annotations

from typing import Any

import pandas as pd
import pytest

from district.balance.metering import devices, metering, zone_homes
from district.errors import StageError


def test_cells_with_a_source_or_without_meters_are_left_out(make_network: Any) -> None:
    plain = make_network()
    alone = plain.cells.loc[["South"]].rename(index={"South": "Island"})
    layout = metering(make_network(cells=pd.concat([plain.cells, alone])))
    assert list(layout.cells) == ["North", "South"]
    assert layout.left_out == (
        "Island is not balanced: no zone meter lies at its edge.",
        "S is not balanced: it holds a source, whose inflow no zone meter measures.",
    )


def test_equations_have_a_sign_a_meter_and_side(make_network: Any) -> None:
    layout = metering(make_network())
    assert list(layout.meters) == ["M1", "M2"]
    assert layout.signs.toarray().tolist() == [[1, -1], [0, 1]]
    assert layout.error_share.tolist() == [0.02, 0.02]


def test_a_meter_inside_one_cell_is_no_edge(make_network: Any) -> None:
    inside = pd.DataFrame(
        {
            "meter_id": ["M1", "M9"],
            "upstream_cell_id": ["", "North"],
            "downstream_cell_id": ["North", "North"],
            "error_percent": [2.0, 2.0],
        }
    )
    assert list(metering(make_network(boundaries=inside)).meters) == ["M1"]


def test_nothing_to_balance_is_said(make_network: Any) -> None:
    plain = make_network()
    with pytest.raises(StageError, match="No zone can be balanced"):
        metering(make_network(cells=plain.cells.assign(has_source=True)))


def test_unknown_meter_error_is_the_declared_default(make_network: Any) -> None:
    network = make_network()
    layout = metering(network)
    found = devices(network, layout, reading=pd.Index(["B1", "C1", "ZZ"], dtype=object))
    assert list(found.ids) == ["B1", "C1"]
    assert found.error_share.tolist() == [0.04, 0.02]
    assert found.inside.toarray().tolist() == [[1, 1], [0, 0]]


def test_a_meter_shared_by_connections_counts_once(make_network: Any) -> None:
    plain = make_network()
    shared = plain.connections.assign(meter_id="B1")
    network = make_network(connections=shared)
    found = devices(network, metering(network), reading=pd.Index(["B1"], dtype=object))
    assert found.inside.toarray().tolist() == [[1], [0]]


def test_a_zone_meter_named_at_a_connection_is_no_user_meter(make_network: Any) -> None:
    plain = make_network()
    layout = metering(make_network(connections=plain.connections.assign(meter_id="M1")))
    assert set(layout.users["meter_id"]) == {""}


def test_a_cell_may_carry_several_zones(make_network: Any) -> None:
    plain = make_network()
    cells = plain.cells.assign(zone_ids=[(), ("N1", "N2"), ("South",)])
    homes = zone_homes(make_network(cells=cells))
    assert (homes["N2"], homes["South"], homes["S"]) == ("North", "South", "S")
