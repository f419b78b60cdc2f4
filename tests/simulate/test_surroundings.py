import geopandas as gpd
import numpy as np
import pytest

from district.schema import check
from district.schema.inputs import PIPES, SURFACES
from district.simulate.layout import lay_out
from district.simulate.surroundings import ground_kinds, street_names, surfaces


@pytest.fixture(scope="module")
def layout():
    return lay_out(np.random.default_rng([7, 0]))


def test_streets_of_a_quarter_have_names_of_their_own():
    drawn = [f"{zone} {way} {n}" for zone in ("C1", "C2", "V1") for way in ("row", "column")
             for n in range(7)]  # fmt: skip
    named = street_names(drawn)
    assert len(set(named.values())) == len(drawn)
    assert named["V1 row 2"].endswith(" Street")


def test_a_link_between_zones_has_none():
    assert street_names(["link ZM-C1", "trunk west"]) == {
        "link ZM-C1": None,
        "trunk west": "Intake Lane",
    }


def test_each_street_lies_in_one_zone_and_each_pipe_but_links_has_one(layout):
    pipes = layout.pipes
    assert (pipes["street"].isna() == (pipes["part"] == "link")).all()
    assert (pipes.dropna(subset="street").groupby("street")["zone_id"].nunique() == 1).all()
    assert check(PIPES, pipes, source="pipes")[1] == ()


def test_ground_follows_the_level(layout):
    assert ground_kinds(np.array([300.0, 195.0, 100.0])) == ["peat", "gravel", "clay"]
    shares = layout.pipes["ground"].value_counts(normalize=True)
    assert set(shares.index) == {"clay", "gravel", "peat"}
    assert shares.min() > 0.15


def test_surfaces_meet_the_schema_and_lie_above_pipes(layout):
    above = layout.surfaces
    tidy, findings = check(SURFACES, above, source="surfaces")
    assert findings == ()
    assert set(tidy["kind"]) == {"main_road", "road", "railway", "building"}
    assert above.geometry.is_valid.all()
    over = gpd.sjoin(above, layout.pipes[["geometry"]], predicate="intersects")
    assert set(over["surface_id"]) == set(above["surface_id"])
    share = layout.pipes.geometry.intersection(above.union_all()).length.sum()
    assert 0.1 < share / layout.pipes.geometry.length.sum() < 0.5


def test_pipes_are_not_written_to(layout):
    before = layout.pipes.copy()
    surfaces(layout.pipes, (0.0, 0.0))
    assert layout.pipes.equals(before)
