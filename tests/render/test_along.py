from __future__ import annotations

from dataclasses import replace

import pytest
from shapely.geometry import LineString

from district.render.along import likeliest_place, piece_to_walk, starts_in_words
from district.render.stretches import drawn_stretches


def test_the_start_is_named_by_compass_and_by_what_meets_it(report):
    starts = starts_in_words(report, drawn_stretches(report))
    assert starts["P12"].startswith("its west end, where P11")
    assert starts["P12"].endswith("and P13 meet it")
    assert starts["P14"] == "its south-west end, where P13 meets it" or "west end" in starts["P14"]
    assert starts["P13"].startswith("its south end")
    assert starts["P31"] == "its west end"  # nothing meets it there


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ([(0, 0), (0, 90)], "its south end"),
        ([(0, 0), (-90, 0)], "its east end"),
        ([(0, 0), (60, -60)], "its north-west end"),
        ([(0, 0), (50, 0), (50, 50), (1, 0)], "its start as drawn"),
    ],
)
def test_points_of_the_compass(report, line, said):
    pipes = report.layers.pipes.iloc[:1].assign(pipe_id="A").set_geometry([LineString(line)])
    pipes = pipes.set_crs(report.layers.pipes.crs, allow_override=True)
    alone = replace(report, layers=replace(report.layers, pipes=pipes))
    assert starts_in_words(alone, drawn_stretches(alone)) == {"A": said}


def row(**said):
    return {"length_m": 160.0, "from_m": 12.0, "to_m": 48.0, **said}


def test_the_piece_is_told_from_which_end():
    told = piece_to_walk(row(), "its west end, where P9 meets it")
    assert told == ("from 12 m to 48 m of 160 m, counted from its west end, where P9 meets it")
    assert piece_to_walk(row(), "").endswith("counted from its start as drawn")
    assert piece_to_walk(row(from_m=0.3, to_m=159.6), "") == "all of it"
    assert piece_to_walk(row(from_m=float("nan")), "") == "-"


def test_the_likeliest_place_is_told_only_where_something_tells_it():
    told = {"along_m": 34.0, "along_m_low": 20.0, "along_m_high": 51.0}
    assert likeliest_place(row(**told), "its west end") == "34\u00a0m (20 to 51) from its west end"
    assert likeliest_place(row(**{**told, "along_m_high": 150.0}), "") == "anywhere along it"
    assert likeliest_place(row(), "") == ""
