from __future__ import annotations

from dataclasses import replace

import pandas as pd
import pytest

from district.render.searching import distance, found_in_zones, moved, searches
from district.render.stretches import drawn_stretches
from district.schema.located import EVIDENCE_KINDS


def found(report):
    return searches(report, drawn_stretches(report))


def test_each_leak_tells_what_it_is_and_what_told_it(report):
    first, second = found(report)
    assert first["what"] == "leak since 2031-04-05"
    assert [e["kind"] for e in first["evidence"]] == ["prior", "pressure", "survey"]
    assert [e["moved"] for e in first["evidence"]] == [
        "moved it (12 %)",
        "moved it much (43 %)",
        "hardly moved the answer",
    ]
    assert [e["kind"] for e in first["unused"]] == ["size"]
    assert not first["bare"]
    assert [s["rank"] for s in first["stretches"]] == sorted(s["rank"] for s in first["stretches"])
    assert {s["cell_id"] for s in first["stretches"]} == {"Z1"}
    assert second["what"] == "excess without an event"
    assert second["bare"]


def test_two_leaks_at_once_stand_together(report):
    sets = report.location.search_sets
    two = pd.concat([sets.iloc[:1].assign(leak="larger"), sets.iloc[:1].assign(leak="smaller")])
    changed = replace(report, location=replace(report.location, search_sets=two))
    (leak,) = found(changed)
    assert [s["leak"] for s in leak["sets"]] == ["larger", "smaller"]
    assert "walk 730\u00a0m and 730\u00a0m of" in found_in_zones(changed)["Z1"][0]


def test_without_evidence_nothing_is_told(report):
    bare = replace(report.location, evidence=report.location.evidence.iloc[:0])
    for leak in found(replace(report, location=bare)):
        assert leak["evidence"] == leak["unused"] == []
        assert not leak["bare"]


def test_without_a_search_there_is_no_leak(report):
    none = replace(report.location, search_sets=report.location.search_sets.iloc[:0])
    assert found(replace(report, location=none)) == []


@pytest.mark.parametrize("kind", EVIDENCE_KINDS)
def test_every_kind_of_evidence_has_its_words(report, kind):
    only = report.location.evidence.iloc[:1].assign(kind=kind)
    changed = replace(report, location=replace(report.location, evidence=only))
    assert "_" not in found(changed)[0]["evidence"][0]["kind_words"]


def test_how_far_it_moved_in_words():
    assert [moved(share) for share in (0.0, 0.02, 0.2, 0.5, 0.9, 1.0)] == [
        "hardly moved the answer",
        "moved it a little (2 %)",
        "moved it (20 %)",
        "moved it much (50 %)",
        "decided it (90 %)",
        "decided it (100 %)",
    ]


def test_a_walk_is_told_in_metres_below_a_kilometre():
    assert distance(1.0) == "1.00\u00a0km"
    assert distance(0.9990) == "999\u00a0m"
