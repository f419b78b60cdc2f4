"""A town drawn by chance: streets in a grid, some missing, houses on dead ends."""

from __future__ import annotations

import numpy as np

from district.hydraulics import Model
from district.hydraulics.model import Reals
from tests.hydraulics.networks import network


def town(pipes_count: int, seed: int = 7) -> tuple[Model, Reals]:
    """A model of about so many pipes, 2.4 to a junction, and its demands in L/s.

    Three sources feed a grid of wide streets every tenth, narrow ones between; a fifth of the
    streets is missing, every part that is left hangs together.
    """
    rng = np.random.default_rng(seed)
    side = round((pipes_count / 1.2) ** 0.5)
    node = np.arange(side * side).reshape(side, side)
    across = np.c_[node[:, :-1].ravel(), node[:, 1:].ravel()]
    down = np.c_[node[:-1].ravel(), node[1:].ravel()]
    # The rows and the first column stay whole; of the rest as many as the count wants.
    kept = rng.permutation(len(down))[: max(pipes_count - len(across), 0)]
    first = np.flatnonzero(down[:, 0] % side == 0)
    down = down[np.union1d(kept, first)]
    links = np.r_[across, down]
    wide = (links // side % 10 == 0).all(axis=1) | (links % side % 10 == 0).all(axis=1)
    heads = {0: 70.0, side * side // 2: 72.0, side * side - 1: 71.0}
    model = network(
        heads,
        rng.uniform(0.0, 15.0, side * side),
        [(int(a), int(b)) for a, b in links],
        length_m=rng.uniform(30.0, 120.0, len(links)),
        diameter_mm=np.where(wide, 300.0, rng.choice([80.0, 100.0, 150.0], len(links))),
        roughness=rng.uniform(90.0, 140.0, len(links)),
    )
    return model, rng.uniform(0.0, 0.02, side * side)
