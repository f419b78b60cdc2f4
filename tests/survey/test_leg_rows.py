"""Tests of `district.survey.leg_rows`, on the tables of a walk."""

from __future__ import annotations

import pytest

from district.schema.survey_tables import (
    SURVEY_LEGS,
    SURVEY_PATHS,
    SURVEY_ROUNDS,
    SURVEY_SHIFTS,
)
from district.survey import SurveyWalk
from district.survey.leg_rows import placed, rounds_table, shifts_table


def test_legs_are_drawn_as_they_are_walked(walk: SurveyWalk) -> None:
    legs = walk.legs.set_index("stretch_id")
    assert tuple(walk.legs.columns) == SURVEY_LEGS.names()
    assert legs.length_m.sum() == pytest.approx(410.0)
    for row in legs.itertuples():
        assert row.geometry.length == pytest.approx(row.length_m)
        assert abs(row.to_m - row.from_m) == pytest.approx(row.length_m)
    back = legs[legs["to_m"] < legs["from_m"]]
    assert 0 < len(back) < len(legs)
    first = {"B": (200, 0), "R2": (200, 100), "G": (280, 100), "E": (350, 0), "Q": (700, 0)}
    assert all(row.geometry.coords[0] == first[row.Index] for row in back.itertuples())


def test_what_each_leg_holds_and_its_ranks(walk: SurveyWalk) -> None:
    legs = walk.legs
    assert legs["cumulative_share"].is_monotonic_increasing
    assert legs["cumulative_share"].iloc[-1] == pytest.approx(0.88)
    assert legs["expected_flow_l_s"].sum() == pytest.approx(2 * 0.88)
    by = legs.set_index("stretch_id")
    assert by.loc["B", "probability_share_low"] == pytest.approx(0.2)
    assert by.loc["G", "probability_per_100_m_share"] == pytest.approx(0.3)
    density = by["expected_flow_l_s"] / by["length_m"]
    assert list(density.sort_values(ascending=False).index) == list(
        by.sort_values("density_rank").index
    )
    assert sorted(by["soonest_rank"]) == [1, 2, 3, 4, 5]


def test_ways_begin_and_end_where_the_legs_do(walk: SurveyWalk) -> None:
    assert tuple(walk.paths.columns) == SURVEY_PATHS.names()
    legs = walk.legs.set_index("leg")
    ways = walk.paths.set_index("leg")
    for number, way in ways[ways.index.notna()].iterrows():
        assert way.geometry.coords[-1] == pytest.approx(legs.geometry[number].coords[0])
        assert way["length_m"] == pytest.approx(legs.there_m[number])
        assert way.geometry.length == pytest.approx(way["length_m"])
        assert way["by"] == legs.there_by[number]
    (home,) = walk.paths[walk.paths["leg"].isna()].geometry
    assert home.coords[-1] == (100, 0)


def test_the_sums_of_shifts_are_those_of_legs_and_ways(walk: SurveyWalk) -> None:
    (shift,) = walk.shifts.to_dict("records")
    assert tuple(walk.shifts.columns) == SURVEY_SHIFTS.names()
    assert shift["searched_m"] == pytest.approx(walk.legs.length_m.sum())
    assert shift["walked_m"] == pytest.approx(walk.paths.length_m.sum())
    assert shift["points_count"] == len(walk.points) == walk.legs.points_count.sum()
    minutes = 410 / (2000 / 60) + shift["walked_m"] / (4000 / 60) + 3 * shift["points_count"]
    assert shift["work_h"] == pytest.approx(minutes / 60)
    assert shift["fits"]


def test_the_orders_side_by_side(walk: SurveyWalk) -> None:
    by = walk.rounds.set_index("order")
    assert tuple(walk.rounds.columns) == SURVEY_ROUNDS.names()
    assert by["walked_m"].idxmin() == "shortest"
    assert by["found_h"].idxmin() == "soonest"
    assert by["searched_m"].nunique() == 1


def test_no_rows_keep_their_columns(walk: SurveyWalk) -> None:
    none = placed(SURVEY_LEGS, [], walk.legs.crs)
    assert tuple(none.columns) == SURVEY_LEGS.names()
    assert none.crs == walk.legs.crs
    assert tuple(rounds_table([]).columns) == SURVEY_ROUNDS.names()
    empty = shifts_table([], [], lambda _: [], looked_for_l_s=0.0)
    assert tuple(empty.columns) == SURVEY_SHIFTS.names()
