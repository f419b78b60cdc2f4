"""Networks typed by hand or drawn by chance, for tests of the solver."""

from __future__ import annotations

from typing import Any

import numpy as np

from district.hydraulics import Kind, Model


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
