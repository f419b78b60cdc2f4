import pandas as pd

from district.schema.inputs import WORK_KINDS
from district.schema.truth import SEEDED_KINDS, SEEDED_SHAPES
from district.simulate.scenario import ZONE_IDS
from district.simulate.story import BUILDINGS, CRITICAL, PLANT_ROOMS, SEEDS, WAYS, WORKS

NAMES = [name for buildings in BUILDINGS.values() for name, _ in buildings]


def test_buildings_are_distinct_and_known():
    assert 40 <= len(NAMES) == len(set(NAMES)) <= 46
    assert {kind for buildings in BUILDINGS.values() for _, kind in buildings} == set(WAYS)
    assert {*CRITICAL, *(building for _, building in PLANT_ROOMS)} <= set(NAMES)


def test_seeds_use_the_declared_words_and_run_forward():
    assert len({s.seed_id for s in SEEDS}) == len(SEEDS)
    for seed in SEEDS:
        assert seed.what in SEEDED_KINDS
        assert seed.shape in SEEDED_SHAPES
        assert seed.zone_id in ZONE_IDS
        times = [pd.Timestamp(at) for at, _ in seed.knots]
        assert times == sorted(times)


def test_works_are_of_known_kinds_and_end_after_they_begin():
    for work in WORKS:
        assert work.kind in WORK_KINDS
        assert pd.Timestamp(work.start) < pd.Timestamp(work.end)


def test_repairs_end_when_the_leak_changes():
    leak = next(s for s in SEEDS if s.seed_id == "L3")
    repairs = [w.end for w in WORKS if w.kind == "repair" and w.place_id == "pipe of L3"]
    assert repairs == [at for at, _ in leak.knots[1:]]
    burst = next(s for s in SEEDS if s.seed_id == "L10")
    (mended,) = [w for w in WORKS if w.place_id == "meter of Foxtail Flats"]
    assert mended.start < burst.knots[-1][0] < mended.end
