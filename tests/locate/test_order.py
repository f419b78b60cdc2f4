"""The order of search and the pieces to walk."""

from __future__ import annotations

import numpy as np
import pytest

from district.locate.order import numbered, parts_in_set, ranked, walk_columns
from district.locate.spots import Evidence, Sought
from district.locate.walk import Walk
from district.locate.zone_search import ZoneSearch, search_zone
from tests.locate.streets import even, likely, plain_spots, walk

STREET = walk([400.0, 30.0, 200.0])
NAMES = np.array(["A", "B", "C"])


def searched(street: Walk, *at: int) -> ZoneSearch:
    leaks = [Sought(f"E{n}", "V1", "leak", 1.0, 0.9, 1.1) for n in range(len(at))]
    count = len(street.spot)
    told = {
        s.sought_id: [Evidence(s.sought_id, "pressure", s.sought_id, likely(count, a, 1e6))]
        for s, a in zip(leaks, at, strict=True)
    }
    return search_zone("V1", street, even(street), leaks, told, prior_said="", hold_share=0.9)


def columns(search: ZoneSearch) -> dict[str, list[object]]:
    probability = STREET.summed(search.probability)
    table = walk_columns(STREET, NAMES, probability, [search])
    return {str(k): v for k, v in table.to_dict("list").items()}


def test_the_piece_to_walk_is_said_and_nothing_outside_the_set() -> None:
    found = columns(searched(STREET, 20))
    assert found["in_set"] == [True, False, False]
    assert found["from_m"][0] == pytest.approx(200)
    assert found["to_m"][0] == pytest.approx(210)
    assert np.isnan(np.array(found["from_m"][1:], dtype=float)).all()
    assert found["sought_ids"] == ["E0", "", ""]


def test_a_stretch_with_two_leaks_is_walked_over_both() -> None:
    found = columns(searched(STREET, 5, 30))
    assert (found["from_m"][0], found["to_m"][0]) == (pytest.approx(50), pytest.approx(310))
    assert found["sought_ids"][0] == "E0, E1"


def test_a_short_piece_counts_as_30_m_in_the_order() -> None:
    search = searched(STREET, 20)
    density = columns(search)["density"][0]
    assert density == pytest.approx(search.probability[20] / 30)


def test_without_a_search_density_is_of_whole_stretches() -> None:
    table = walk_columns(STREET, NAMES, np.array([0.4, 0.3, 0.3]), [])
    np.testing.assert_allclose(table["density"], [0.001, 0.01, 0.0015])
    assert not table["in_set"].any()


def test_searched_zones_come_first_then_flow_for_each_metre() -> None:
    density = np.array([0.5, 0.1, 0.2, 0.3])
    flow = np.array([9.0, 1.0, 1.0, np.nan])
    rank = ranked(density, flow, np.array([False, True, True, False]), np.array(list("abcd")))
    assert list(rank) == [3, 2, 1, 4]
    assert list(numbered(np.array([2, 0, 1]))) == [2, 3, 1]


def test_only_parts_on_the_piece_are_in_the_set() -> None:
    """The first stretch of parts with one spot each: those of the piece alone."""
    search = searched(STREET, 20)
    table = walk_columns(STREET, NAMES, STREET.summed(search.probability), [search])
    inside = parts_in_set(STREET, plain_spots(np.zeros(len(STREET.spot))), table)
    assert list(np.flatnonzero(inside)) == [20]
