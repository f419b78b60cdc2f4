from __future__ import annotations

import json
from dataclasses import replace

import pandas as pd
import pytest
from shapely.geometry import shape

from district.render.pipe_features import pipe_features


def grades(pipes):
    return [f["properties"]["grade"] for f in pipes if f["properties"]["role"] == "line"]


def test_likelier_pipes_lie_over_others_and_sets_are_cased(report):
    pipes, casings, _ = pipe_features(report)
    assert grades(pipes) == sorted(grades(pipes))
    assert grades(pipes).count(-1) == 4
    assert [f["properties"]["role"] for f in casings] == ["casing"] * 6 + ["gap"] * 6
    assert sum(f["properties"]["role"] == "touch" for f in pipes) == 11


def test_pipes_of_a_zone_that_is_not_searched_are_drawn_quiet(report):
    found = report.location
    one = replace(found, search_sets=found.search_sets.iloc[:1])
    pipes, _, _ = pipe_features(replace(report, location=one))
    assert grades(pipes).count(-1) == 4 + 3


def test_only_the_piece_to_walk_is_cased(report):
    pipes, casings, _ = pipe_features(report)
    lines = [f for f in pipes if f["properties"]["role"] == "line"]
    whole = max(lines, key=lambda f: f["properties"]["grade"])
    piece = min(casings, key=lambda f: shape(f["geometry"]).length)
    # 50 m of 251 m, on the 0.1 m grid of the map.
    share = shape(piece["geometry"]).length / shape(whole["geometry"]).length
    assert share == pytest.approx(50 / 250.8, rel=0.01)


def test_the_likeliest_place_stands_where_readings_tell_it(report):
    _, _, places = pipe_features(report)
    (place,) = places
    assert place["properties"]["symbol"] == "likeliest"
    assert "34\u00a0m (20 to 51) from its west end" in place["properties"]["popup"]
    told = report.location.stretches
    told = told.assign(along_m_low=0.0, along_m_high=told["length_m"])
    bare = replace(report, location=replace(report.location, stretches=told))
    assert pipe_features(bare)[2] == []


def test_a_pipe_tells_what_to_walk_and_what_would_be_seen_next(report):
    popups = [f["properties"]["popup"] for f in pipe_features(report)[0]]
    top = next(p for p in popups if "Stretch P11" in p)
    assert "from 12\u00a0m to 62\u00a0m of 251\u00a0m, counted from its west end" in top
    assert "<dt>Smallest leak shown</dt><dd>0.060\u00a0L/s (0.040 to 0.080)</dd>" in top
    assert "<dt>Walk to a leak of 1\u00a0L/s</dt><dd>40\u00a0m (10 to 70)</dd>" in top
    assert "anywhere along it" in next(p for p in popups if "Stretch P12" in p)


def test_without_likelihood_or_look_ahead_pipes_are_plain(report):
    found = report.location
    names = ("likelihood", "stretches", "search_sets", "detectability")
    bare = replace(found, **{name: getattr(found, name).iloc[:0] for name in names})
    pipes, casings, places = pipe_features(replace(report, location=bare))
    assert casings == places == []
    assert set(grades(pipes)) == {-1}
    assert "Smallest leak" not in json.dumps(pipes)


def test_no_value_reaches_the_features_raw(report):
    stretches = report.location.stretches
    odd = stretches.assign(sought_ids="<script>", along_m_low=1.0, along_m_high=pd.Series(9.0))
    every = [f for part in pipe_features(report) for f in part]
    every += pipe_features(replace(report, location=replace(report.location, stretches=odd)))[2]
    said = json.dumps([f["properties"] for f in every])
    for raw in ("<script", "{{", "{%", "`", "${"):
        assert raw not in said
