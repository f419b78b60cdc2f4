"""Tests of `district.cli.survey_tables`: cells as people read them."""

from __future__ import annotations

import pandas as pd
import pytest
from rich.table import Table

from district.cli.survey_tables import leg_table, order_table, set_up_table, shift_table
from district.settings import Settings
from district.survey import SurveyWalk, survey_walk
from tests.survey.scenes import ladder, location

NAMES = pd.Series({"Z": "Upper row"})


@pytest.fixture(scope="module")
def walk() -> SurveyWalk:
    network = ladder(B="pvc")
    told = location(network, {"B": (0.5, None, None), "Q": (0.4, None, None)})
    return survey_walk(network, *told, settings=Settings())


def cells(table: Table, column: int) -> list[str]:
    return [str(c) for c in table.columns[column].cells]


def test_shifts_name_their_zones(walk: SurveyWalk) -> None:
    table = shift_table(walk.shifts, NAMES)
    assert cells(table, 1) == ["Upper row"]
    assert cells(table, 7) == ["90 %"]
    late = shift_table(walk.shifts.assign(fits=False), NAMES)
    assert cells(late, 6)[0].endswith(" *")
    assert cells(shift_table(walk.shifts[:0], NAMES), 0) == ["none"]


def test_a_straight_line_is_marked(walk: SurveyWalk) -> None:
    table = leg_table(walk.legs)
    there = dict(zip(cells(table, 2), cells(table, 4), strict=True))
    assert there["Q"].endswith(" *")
    assert cells(table, 7)[0].startswith("50")


def test_set_ups_tell_material_and_limits(walk: SurveyWalk) -> None:
    table = set_up_table(walk.set_ups)
    assert "PVC" in cells(table, 3)[0]
    assert "\n" in cells(table, 6)[0]
    bare = set_up_table(walk.set_ups.assign(delay_ms=None, delay_from_ms=None))
    assert set(cells(bare, 7)) == set(cells(bare, 8)) == {"-"}


def test_orders_in_words(walk: SurveyWalk) -> None:
    table = order_table(walk.rounds, NAMES)
    assert cells(table, 0) == ["Upper row", "", ""]
    assert cells(table, 1) == ["shortest", "soonest to the leak", "by flow found for each metre"]
