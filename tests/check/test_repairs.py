"""One sentence a kind, however many there are."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from shapely.geometry import LineString

from district.check.repairs import repair_notes
from district.network import build_network
from district.results import Inputs
from district.schema.outputs import REPAIR_KINDS
from district.settings import Settings

Coordinates = list[tuple[float, float]]
Notes = Callable[..., list[str]]


@pytest.fixture
def notes(inputs: Inputs, add: Callable[..., Inputs], says: Callable[..., list[str]]) -> Notes:
    """What is said with these pipes added."""

    def said(*lines: Coordinates) -> list[str]:
        rows = [{"pipe_id": f"X{n}", "geometry": LineString(c)} for n, c in enumerate(lines, 1)]
        more = add(inputs, "pipes", *rows) if rows else inputs
        network = build_network(more, settings=Settings())
        return says(repair_notes(network, more, tolerance_m=0.5))

    return said


def test_a_clean_district_has_none(notes: Notes) -> None:
    assert notes() == []


@pytest.mark.parametrize(
    ("line", "sentence"),
    [
        (
            [(500, 5), (500, 5)],
            "got 1 line without length, expected lines as long as the pipe. Draw them, or remove "
            "them; until then they are left out.",
        ),
        (
            [(600, 0.1), (400, 0)],
            "got 1 copy of another pipe, X1 with B2: the same ends and the same line, expected "
            "each pipe once. Remove the copies, which are left out; where two mains really lie "
            "side by side, draw them farther apart than 0.5 m.",
        ),
        (
            [(600.34, 0), (700, 0)],
            "got 1 end up to 0.34 m from the end it meets, expected ends that meet exactly. "
            "Nothing need be done: they are joined; layer repairs of results.gpkg shows where.",
        ),
        (
            [(500, 0.2), (500, 90)],
            "got 1 end on the middle of a pipe, up to 0.2 m beside it, expected pipes drawn from "
            "junction to junction. Nothing need be done: the other pipe is split there; layer "
            "repairs of results.gpkg shows where.",
        ),
        (
            [(500, 0), (500, 90)],
            "got 1 end on the middle of a pipe, expected pipes drawn from junction to junction. "
            "Nothing need be done: the other pipe is split there; layer repairs of results.gpkg "
            "shows where.",
        ),
        (
            [(600, 0), (640, 0), (640, 30), (600, 0)],
            "got 1 pipe whose two ends are one, expected pipes that lead from one place to "
            "another, or a true ring. Correct the line unless the pipe really returns to where "
            "it begins.",
        ),
        (
            [(400, 0), (500, 30), (600, 0)],
            "got 1 pipe beside another between the same two junctions, X1 with B2, expected one "
            "pipe there, or two that really exist. Remove what was drawn twice, if anything; "
            "layer repairs of results.gpkg shows where.",
        ),
        (
            [(600, 0), (640, 0), (640, 20), (620, 20), (620, -30)],
            "got 1 place where pipes cross without meeting, X1 with itself, expected pipes that "
            "pass over one another, or meet at an end. Nothing need be done for those that pass; "
            "where water goes from one to the other, let one end there; layer repairs of "
            "results.gpkg shows where.",
        ),
    ],
)
def test_each_kind_has_its_sentence(notes: Notes, line: Coordinates, sentence: str) -> None:
    assert notes(line) == [f"note: pipes.geojson, pipe X1, column geometry: {sentence}"]


def test_a_pipe_shorter_than_the_tolerance(notes: Notes) -> None:
    assert notes([(600, 0), (600.3, 0)])[1] == (
        "note: pipes.geojson, pipe X1, column geometry: got 1 pipe no longer than 0.5 m, whose "
        "two ends are one, expected pipes longer than snap_tolerance_m. Nothing need be done "
        "unless a zone meter or a shut valve stands there: then lower snap_tolerance_m in "
        "district.toml."
    )


def test_many_are_one_sentence(notes: Notes) -> None:
    over = [[(420.0 + 10 * n, -40.0), (420.0 + 10 * n, 40.0)] for n in range(15)]
    assert notes(*over) == [
        "note: pipes.geojson, pipe B2, column geometry: got 15 places where pipes cross without "
        "meeting, such as B2 with X1, B2 with X10, expected pipes that pass over one another, or "
        "meet at an end. Nothing need be done for those that pass; where water goes from one to "
        "the other, let one end there; layer repairs of results.gpkg shows where."
    ]


def test_the_check_of_the_network_tells_them(
    inputs: Inputs, add: Callable[..., Inputs], checked: Callable[..., object]
) -> None:
    crossing = {"pipe_id": "X1", "geometry": LineString([(600, 0), (640, 0), (640, 9), (600, 0)])}
    (note,) = checked(add(inputs, "pipes", crossing))  # type: ignore[misc]
    assert (note.severity, note.place) == ("note", "pipe X1")


def test_every_kind_but_one_is_told() -> None:
    from district.check.repairs import _SAID

    assert set(REPAIR_KINDS) - set(_SAID) == {"split_at_device"}
