import pandas as pd

from district.schema.field_records import SIGHTS as SIGHT_KINDS
from district.schema.field_records import SURVEY_METHODS
from district.simulate.field_story import (
    CORRELATED,
    SEARCHES,
    SECTIONS,
    SIGHTS,
    TEST_START,
    TEST_ZONE,
)
from district.simulate.scenario import ZONE_IDS
from district.simulate.story import SEEDS, WORKS

START = {s.seed_id: pd.Timestamp(s.knots[0][0]) for s in SEEDS if s.what == "leak"}


def test_words_are_declared_and_places_known():
    assert {s.method for s in SEARCHES} <= set(SURVEY_METHODS)
    assert {s.what for s in SIGHTS} <= set(SIGHT_KINDS)
    assert {s.zone_id for s in SEARCHES} | {TEST_ZONE} <= set(ZONE_IDS)
    for name in [s.near_id for s in (*SEARCHES, *SIGHTS)] + [h.leak_id for h in CORRELATED]:
        assert name in START or name.startswith("PL-")


def test_what_is_told_of_a_leak_comes_after_it_began():
    told = [(s.near_id, s.date) for s in SEARCHES] + [(s.near_id, s.time) for s in SIGHTS]
    told += [(h.leak_id, h.date) for h in CORRELATED]
    for name, when in told:
        if name in START:
            assert pd.Timestamp(when) > START[name]


def test_the_step_test_is_in_the_works_and_its_sections_come_nearer():
    work = next(w for w in WORKS if w.note.startswith("step test"))
    assert work.place_id == TEST_ZONE
    assert pd.Timestamp(work.start) < pd.Timestamp(TEST_START) < pd.Timestamp(work.end)
    assert list(SECTIONS) == sorted(SECTIONS, reverse=True)
    assert all(near < far for near, far in SECTIONS)
