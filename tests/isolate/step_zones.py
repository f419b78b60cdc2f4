"""Zones drawn by chance for the tests of step tests, and every way to part them."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product

import networkx as nx
import numpy as np

from district.hydraulics.stepping import NightUse
from district.isolate.step_cost import Weighing, cost_m, weighed
from district.isolate.step_trees import step_cost_m, valve_cost_m
from district.isolate.step_zone import ZoneSegments


def chance_zone(
    rng: np.random.Generator, *, count: int, loops_count: int, kept_count: int = 0
) -> ZoneSegments:
    """A tree of so many segments and some gates more; some of them have to stay fed."""
    first = [int(rng.integers(0, v)) for v in range(1, count)]
    second = list(range(1, count))
    for _ in range(loops_count):
        a, b = rng.choice(count, 2, replace=False)
        first.append(int(a))
        second.append(int(b))
    kept = np.zeros(count, dtype=bool)
    kept[0] = True
    kept[rng.choice(count, kept_count, replace=False)] = True
    length_m = rng.uniform(20.0, 400.0, count)
    graph = nx.Graph(zip(first, second, strict=True))
    far = nx.single_source_shortest_path_length(graph, 0)
    return ZoneSegments(
        pipe=np.repeat(np.arange(count), 2),
        tap=np.arange(count),
        gate=np.arange(len(first)),
        first=np.array(first),
        second=np.array(second),
        length_m=length_m,
        far_m=np.array([100.0 * far[v] for v in range(count)]),
        kept=kept,
        reasons=(),
    )


def chance_weighing(
    rng: np.random.Generator, zone: ZoneSegments, *, flow_l_s: float = 0.5
) -> Weighing:
    """Two pipes a segment, some much likelier than others by the metre."""
    count = zone.count()
    share = rng.uniform(0.2, 0.8, count)
    metres = np.column_stack([share * zone.length_m, (1 - share) * zone.length_m]).ravel()
    likely = metres * np.exp(rng.normal(0.0, 1.5, len(metres)))
    use = zone.length_m / 5000
    return weighed(
        zone.pipe,
        likely / likely.sum(),
        metres,
        NightUse(use, 0.3 * use, 0.1 * np.sqrt(use)),
        flow_l_s=flow_l_s,
        read_sd_l_s=0.03,
    )


def every_parting(
    zone: ZoneSegments, weighing: Weighing, *, steps_count: int, most_extra_count: int
) -> Iterator[tuple[float, tuple[int, ...]]]:
    """Cost and parts of every allowed parting, tried one by one with a general graph library."""
    graph = nx.Graph(zip(zone.first.tolist(), zone.second.tolist(), strict=True))
    free = np.flatnonzero(~zone.kept)
    for choice in product(range(steps_count + 1), repeat=len(free)):
        part = np.zeros(zone.count(), dtype=int)
        part[free] = choice
        used = sorted(set(part.tolist()))
        if used != list(range(len(used))):
            continue
        crossing = int((part[zone.first] != part[zone.second]).sum())
        if crossing - (len(used) - 1) > most_extra_count:
            continue
        if not all(nx.is_connected(graph.subgraph(np.flatnonzero(part == p))) for p in used):
            continue
        features = [weighing.features[part == p].sum(axis=0) for p in used]
        valves = valve_cost_m(weighing) * (crossing - (len(used) - 1))
        valves += step_cost_m(weighing) * (len(used) - 1)
        yield float(sum(cost_m(weighing, f) for f in features)) + valves, tuple(part.tolist())
