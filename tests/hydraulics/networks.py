"""Networks typed by hand or drawn by chance, for tests of the solver."""

from __future__ import annotations

from typing import Any

import numpy as np

from district.hydraulics import Kind, Model, Openings, Service
from district.hydraulics.model import Reals


def network(
    heads: dict[int, float],
    elevation: Any,
    links: list[tuple[int, int]],
    **columns: Any,
) -> Model:
    """A model of nodes 0 to N-1 at `elevation`, with fixed `heads`, and `links` (start, end).

    Unless told otherwise: pipes of 100 m, 100 mm and C 100, all open.
    """
    nodes, count = len(elevation), len(links)
    fixed = np.full(nodes, np.nan)
    for node, head in heads.items():
        fixed[node] = head
    ends = np.array(links, dtype=np.int64).reshape(count, 2)
    usual: dict[str, Any] = {
        "kind": Kind.PIPE, "length_m": 100.0, "diameter_mm": 100.0, "roughness": 100.0,
        "minor_k": 0.0, "is_open": True, "setting_m": np.nan,
    }  # fmt: skip
    kinds = {"kind": np.int64, "is_open": np.bool_}
    given = {
        name: np.broadcast_to(
            np.asarray(columns.pop(name, value), dtype=kinds.get(name, np.float64)), (count,)
        ).copy()
        for name, value in usual.items()
    }
    pump = np.array(columns.pop("pump", np.full((count, 3), np.nan)), dtype=float)
    return Model(
        np.array([f"n{i}" for i in range(nodes)], dtype=object),
        np.asarray(elevation, dtype=float),
        fixed,
        np.array([f"l{i}" for i in range(count)], dtype=object),
        ends[:, 0].copy(),
        ends[:, 1].copy(),
        pump=pump,
        **given,
        **columns,
    )


def drawn_network(rng: np.random.Generator, *, valves: bool, usual: bool = False) -> Model:
    """A network of 2 to 40 nodes by chance: parallel pipes, pipes to themselves, parts cut off.

    `valves`: with check valves, reducing valves and pumps anywhere. `usual`: pipes of 50 to 300 mm
    under Hazen-Williams, all open; else from 10 mm to 1 m, by either formula.
    """
    nodes = int(rng.integers(2, 40))
    links = [(int(rng.integers(0, i)), i) for i in range(1, nodes)]
    links += [(int(a), int(b)) for a, b in rng.integers(0, nodes, (int(rng.integers(0, nodes)), 2))]
    count = len(links)
    links = [
        (a, b) if ahead else (b, a)
        for (a, b), ahead in zip(links, rng.random(count) < 0.5, strict=True)
    ]
    heads = {0: rng.uniform(60, 90)}
    if rng.random() < 0.5:
        heads[int(rng.integers(0, nodes))] = rng.uniform(60, 90)
    kind = np.zeros(count, dtype=np.int64)
    if valves:
        chances = [0.82, 0.04, 0.07, 0.07]
        kind = rng.choice([Kind.PIPE, Kind.PUMP, Kind.CHECK, Kind.REDUCING], count, p=chances)
    pump = np.c_[
        rng.uniform(10, 60, count),
        rng.choice([0, 0.01, 0.1], count),
        rng.choice([1.0, 1.5, 2.0], count),
    ]
    pump[kind != Kind.PUMP] = np.nan
    hazen = usual or bool(rng.random() < 0.5)
    lengths = rng.uniform(50, 500, count) if usual else rng.choice([1, 50, 300, 1000.0], count)
    bores = [50.0, 100.0, 150.0, 300.0] if usual else [10.0, 50.0, 100.0, 150.0, 300.0, 1000.0]
    return network(
        heads,
        rng.uniform(0, 40, nodes),
        links,
        kind=kind,
        length_m=np.where((kind == Kind.CHECK) | (kind == Kind.REDUCING), 0.0, lengths),
        diameter_mm=rng.choice(bores, count),
        roughness=rng.uniform(60, 140, count) if hazen else rng.uniform(0.001, 3, count),
        formula="hazen_williams" if hazen else "darcy_weisbach",
        minor_k=np.zeros(count) if usual else rng.choice([0, 0, 0, 5.0], count),
        is_open=np.ones(count, dtype=bool) if usual else rng.random(count) > 0.05,
        setting_m=np.where(kind == Kind.REDUCING, rng.uniform(5, 50, count), np.nan),
        pump=pump,
    )


def drawn_outflow(
    rng: np.random.Generator, nodes: int
) -> tuple[Reals, Openings | None, Service | None]:
    """Demands, and by chance openings of either form and users that depend on pressure."""
    demand = rng.choice([0, 0, 0.1, 0.5, 2.0], nodes)
    openings = Openings(
        "power" if rng.random() < 0.5 else "fixed_and_variable_area",
        rng.choice([0, 0.01, 0.05], nodes),
        rng.choice([0.5, 1.0, 1.5, 2.5], nodes),
        rng.choice([0, 1e-5, 1e-4], nodes),
        rng.choice([0, 1e-6], nodes),
    )
    service = Service(0.0, 15.0, 0.5)
    return (
        demand,
        openings if rng.random() < 0.5 else None,
        service if rng.random() < 0.5 else None,
    )
