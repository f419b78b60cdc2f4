from __future__ import annotations

from collections.abc import Callable
from typing import Any

from shapely.geometry import LineString, box

from district.check.shapes import check_shapes
from district.check.wording import EACH
from district.results import Inputs

Change = Callable[..., Inputs]


def test_sound_shapes_and_a_zone_wholly_inside_another_get_no_word(
    inputs: Inputs, edit: Change
) -> None:
    assert check_shapes(inputs) == []
    assert check_shapes(edit(inputs, "zones", "QUAY", geometry=box(150, 0, 200, 50))) == []
    assert check_shapes(edit(inputs, "zones", "QUAY", geometry=None)) == []
    # A metre of 200 over the edge: drawn by hand.
    assert check_shapes(edit(inputs, "zones", "QUAY", geometry=box(299, -50, 700, 150))) == []


def test_outlines_that_overlap(inputs: Inputs, edit: Change, says: Any) -> None:
    # 100 m of the 200 m of MILL, the smaller.
    over = edit(inputs, "zones", "QUAY", geometry=box(200, -50, 700, 150))
    assert says(check_shapes(over)) == [
        "warning: zones.geojson, zones MILL and QUAY, column geometry: got outlines that overlap "
        "by 50 % of the smaller, expected outlines side by side, or one wholly inside the other. "
        "Correct the outlines; until then pipes in both count for the smaller."
    ]
    same = edit(inputs, "zones", "QUAY", geometry=box(100, -50, 300, 150))
    assert [f.got for f in check_shapes(same)] == ["the same outline twice"]


def test_many_overlaps_end_in_one_sentence(inputs: Inputs, add: Change) -> None:
    many = add(
        inputs,
        "zones",
        *[{"zone_id": f"Z{n}", "geometry": box(5000 + n, 0, 5100 + n, 50)} for n in range(7)],
    )
    found = check_shapes(many)
    assert len(found) == EACH + 1
    assert found[-1].got == f"{7 * 6 // 2 - EACH} more pairs of zones that overlap"


def test_a_pipe_across_the_world(inputs: Inputs, edit: Change, says: Any) -> None:
    astray = edit(inputs, "pipes", "B2", geometry=LineString([(400, 0), (400, 5_200_000)]))
    assert says(check_shapes(astray)) == [
        "warning: pipes.geojson, pipe B2, column geometry: got a line of 5\u00a0200 km, expected "
        "less than 50 km from one end of a pipe to the other. Correct the corner that lies astray; "
        "figures by length are wrong until then."
    ]
