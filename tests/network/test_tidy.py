from __future__ import annotations

import geopandas as gpd
import numpy as np
import pytest
from shapely.geometry import LineString

from district.network.snap import oriented
from district.network.tidy import copies, tidied


def _layer(**lines: LineString) -> gpd.GeoDataFrame:
    frame = {"pipe_id": list(lines), "status": "in_use"}
    return oriented(gpd.GeoDataFrame(frame, geometry=list(lines.values()), crs=32630))


def _copies(*lines: LineString) -> list[int]:
    return copies(np.array(lines, dtype=object), tolerance_m=0.5).tolist()


def test_lines_without_length_are_left_out_and_told() -> None:
    layer = _layer(A=LineString([(0, 0), (9, 0)]), B=LineString([(9, 0), (9, 0), (9, 0)]))
    kept, told = tidied(layer, tolerance_m=0.5)
    assert list(kept.index) == ["A"]
    zero, copied = told
    assert zero[["what", "pipe_id"]].to_numpy().tolist() == [["zero_length", "B"]]
    assert copied.empty


def test_of_copies_the_first_by_id_is_kept() -> None:
    line = LineString([(0, 0), (50, 0), (50, 40)])
    near = LineString([(0, 0.2), (25, 0.3), (50.1, 0), (50, 40)]).reverse()
    layer = _layer(C=line, B=near, A=line, D=LineString([(0, 0), (50, 40)]))
    kept, (_, copied) = tidied(layer, tolerance_m=0.5)
    assert list(kept.index) == ["A", "D"]
    assert copied[["pipe_id", "other_id"]].to_numpy().tolist() == [["B", "A"], ["C", "A"]]
    assert copied["distance_m"].to_numpy() == pytest.approx([0.3, 0.0])


def test_a_line_that_cuts_a_corner_is_no_copy() -> None:
    corner = LineString([(0, 0), (10, 0.9), (20, 0)])
    assert _copies(corner, LineString([(0, 0), (20, 0)])) == [-1, -1]


def test_short_lines_beside_one_another_are_no_copies() -> None:
    assert _copies(LineString([(0, 0), (0.3, 0)]), LineString([(0.3, 0), (0.6, 0)])) == [-1, -1]


def test_rings_copied_from_another_corner_are_copies() -> None:
    ring = LineString([(0, 0), (30, 0), (30, 30), (0, 0)])
    assert _copies(ring, ring.reverse()) == [-1, 0]
    # From another corner the ends lie elsewhere: that is another pipe until someone looks.
    assert _copies(ring, LineString([(30, 0), (30, 30), (0, 0), (30, 0)])) == [-1, -1]


def test_no_lines() -> None:
    assert _copies() == []
