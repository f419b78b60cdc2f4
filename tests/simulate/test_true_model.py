import numpy as np
import pytest

from district.hydraulics import Kind, solve
from district.simulate.scenario import REDUCED_PRESSURE_M
from district.simulate.true_model import Mark, leak_marks, true_model, true_roughness


def test_every_pipe_is_there_in_pieces_that_follow_each_other(year):
    true, pipes = year.true, year.layout.pipes
    own = true.link_pipe != ""
    length = np.bincount(
        pipes.set_index("pipe_id").index.get_indexer(true.link_pipe[own]),
        true.model.length_m[own],
    )
    np.testing.assert_allclose(length, pipes.geometry.length, rtol=1e-9)
    for leak in year.leaks.itertuples():
        pieces = np.flatnonzero(true.link_pipe == leak.pipe_id)
        node = true.node(leak.Index)
        assert node in true.model.end[pieces]
        assert node in true.model.start[pieces]


def test_a_place_is_weighed_between_the_ends_of_its_piece(year):
    leak = year.leaks.loc["L1"]
    at, near = year.true.taps([leak["pipe_id"]] * 2, [leak["share"], 0.999 * leak["share"]])[[0, 1]]
    assert at.toarray()[year.true.node("L1")] == pytest.approx(1.0)
    assert near.toarray()[year.true.node("L1")] == pytest.approx(0.999)
    taps = year.true.taps(["P0001", "P0100"], [0.3, 1.0])
    np.testing.assert_allclose(taps.sum(axis=1), 1.0)


def test_roughness_scatters_about_what_the_map_says_and_old_iron_is_worse(year):
    rng = np.random.default_rng(4)
    drawn = np.array([true_roughness(year.layout, rng) for _ in range(30)])
    ratio = drawn / year.layout.pipes["roughness"].to_numpy(dtype=float)
    metal = year.layout.pipes["material"].isin(["cast_iron", "steel"]).to_numpy()
    assert np.median(ratio[:, ~metal]) == pytest.approx(1.0, abs=0.03)
    assert np.median(ratio[:, metal]) == pytest.approx(0.7, abs=0.04)
    assert 0.04 < (ratio[:, metal] < 0.42).mean() < 0.12  # Badly tuberculated.


def test_the_reducing_valve_holds_its_pressure_and_shut_links_pass_nothing(year):
    true = true_model(year.layout, true_roughness(year.layout, np.random.default_rng(1)), ())
    demand = np.full(len(true.node_zone), 5e-3)
    state = solve(true.model, demand)
    assert state.reached.all()
    valve = np.flatnonzero(true.model.kind == Kind.REDUCING)
    end = true.model.end[valve]
    held = (state.head_m - true.model.elevation_m)[end]
    np.testing.assert_allclose(held, REDUCED_PRESSURE_M, atol=1e-6)
    assert (state.flow_l_s[~true.model.is_open] == 0).all()
    assert (~true.model.is_open).sum() == 6


def test_a_valve_mark_splits_its_pipe_with_a_link_between(year):
    mark = Mark("P0100", 0.4, "V999", "valve")
    true = true_model(year.layout, np.full(len(year.layout.pipes), 100.0), (mark,))
    link = int(np.flatnonzero(true.model.link_id == "V999")[0])
    assert true.model.node_id[true.model.start[link]] == "V999 near"
    assert true.model.node_id[true.model.end[link]] == "V999 far"
    assert true.model.kind[link] == Kind.PIPE
    assert list(true.to_share[true.link_pipe == "P0100"]) == [0.4, 1.0]


def test_each_leak_has_a_mark(year):
    marks = leak_marks(year.leaks)
    assert [m.name for m in marks] == list(year.leaks.index)
    assert {m.kind for m in marks} == {"leak"}
