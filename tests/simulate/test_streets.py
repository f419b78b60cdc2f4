import networkx as nx
import numpy as np

from district.simulate.streets import bend, draw_streets


def stretches():
    return draw_streets(np.random.default_rng(1))


def test_lines_meet_at_their_named_ends():
    places: dict[str, list[np.ndarray]] = {}
    for s in stretches():
        places.setdefault(s.start, []).append(s.line[0])
        places.setdefault(s.end, []).append(s.line[-1])
    for points in places.values():
        assert np.ptp(points, axis=0).max() < 0.01


def test_each_zone_hangs_together_and_the_links_join_all():
    drawn = stretches()
    for zone in {s.zone_id for s in drawn}:
        own = [(s.start, s.end) for s in drawn if s.zone_id == zone and s.link is None]
        assert nx.is_connected(nx.Graph(own))
    assert nx.is_connected(nx.Graph([(s.start, s.end) for s in drawn]))


def test_there_are_loops_and_dead_ends():
    graph = nx.Graph([(s.start, s.end) for s in stretches()])
    assert nx.number_of_edges(graph) - nx.number_of_nodes(graph) > 40
    assert sum(degree == 1 for _, degree in graph.degree) > 10


def test_bending_moves_no_point_far_and_keeps_points_apart():
    grid = np.array([(x, y) for x in range(0, 1200, 20) for y in range(-500, 900, 20)], dtype=float)
    bent = bend(grid)
    assert np.abs(bent - grid).max() <= 21
    nearest = np.sort(np.hypot(*(bent[:200, None] - bent[None, :200]).transpose(2, 0, 1)))[:, 1]
    assert nearest.min() > 10
