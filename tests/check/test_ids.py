from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from district.check.ids import check_ids
from district.results import Inputs

Change = Callable[..., Inputs]


def test_sound_ids_of_any_script_get_no_word(inputs: Inputs, edit: Change) -> None:
    assert check_ids(inputs) == []
    assert check_ids(edit(inputs, "pipes", "A2", pipe_id="Müllerstraße 12 🚰")) == []


def test_a_sensor_called_like_a_meter(inputs: Inputs, edit: Change, says: Any) -> None:
    assert says(check_ids(edit(inputs, "sensors", "L1", sensor_id="M1"))) == [
        "error: sensors.geojson, sensor M1, column sensor_id: got an id that meter M1 of "
        "meters.geojson has too, expected ids of their own, as readings are told apart by them. "
        "Give the sensor another id there and in its readings."
    ]


def test_a_work_at_an_id_of_two_layers(inputs: Inputs, edit: Change, says: Any) -> None:
    shared = edit(inputs, "valves", "V1", valve_id="A2")
    assert says(check_ids(shared)) == [
        'warning: works.csv, column place_id: got "A2", which is a pipe and a valve, expected an '
        "id that only one layer has. Give one of the two another id, so that the work is laid to "
        "the right one."
    ]
    assert check_ids(edit(shared, "works", "", place_id="MILL")) == []


@pytest.mark.parametrize(
    ("pipe_id", "shown", "got"),
    [
        ("A\x1b[31m2", "A�[31m2", "a sign that cannot be shown"),
        ("A\n2", "A�2", "a sign that cannot be shown"),
        ("A" * 5000, "A" * 40, "a very long text"),
    ],
    ids=["escape", "newline", "long"],
)
def test_ids_nobody_can_read(
    inputs: Inputs, edit: Change, says: Any, pipe_id: str, shown: str, got: str
) -> None:
    assert says(check_ids(edit(inputs, "pipes", "B2", pipe_id=pipe_id))) == [
        f"warning: pipes.geojson, pipe {shown}, column pipe_id: got {got}, expected ids of at most "
        "200 signs that can be read and typed. Correct the ids, and in readings and records that "
        "name them."
    ]
