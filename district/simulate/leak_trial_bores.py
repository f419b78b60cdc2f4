"""Choose the bores of a drawn zone, by peak and fire flow and the head that may be lost."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from district.hydraulics import solve
from district.hydraulics.model import Reals
from district.settings import Background
from district.simulate.leak_trial_map import ZONE, ZoneMap
from district.simulate.leak_trial_use import reference_use
from district.simulate.leak_trial_zone import true_zone

_BORES_MM = np.array([80.0, 100.0, 125.0, 150.0, 200.0, 250.0, 300.0, 400.0, 500.0, 600.0])
_FIRE_L_S = 8.0
_VELOCITY_M_S = 1.3
_ROUNDS = 5


def with_bores(drawn: ZoneMap, *, peak_loss_m: float) -> ZoneMap:
    """The zone with bores for the flow of the peak hour and a hydrant, and such that from its
    feed to its lowest head about `peak_loss_m` are lost in that hour, as near as bores on the
    market allow."""
    use = reference_use(drawn)
    peak = use[np.argmax(use.sum(axis=1))]
    pipes = drawn.pipes
    inside = (pipes["cell_id"] == ZONE).to_numpy()
    wanted = np.full(len(pipes), 150.0)
    scale = 1.0
    for _ in range(_ROUNDS):
        drawn = replace(drawn, pipes=pipes.assign(diameter_mm=_on_the_market(wanted)))
        flow, loss = _solved(drawn, peak)
        scale *= float(np.clip((loss / peak_loss_m) ** (1 / 4.87), 0.7, 1.4))
        area_m2 = (np.abs(flow) + _FIRE_L_S) / 1000 / _VELOCITY_M_S
        wanted = 1000 * np.sqrt(4 * area_m2 / np.pi) * np.where(inside, scale, 1.0)
    return drawn


def _on_the_market(wanted_mm: Reals) -> Reals:
    place = np.argmin(np.abs(np.log(wanted_mm[:, None] / _BORES_MM)), axis=1)
    return np.asarray(_BORES_MM[place])


def _solved(drawn: ZoneMap, use_l_s: Reals) -> tuple[Reals, float]:
    """Flow of each pipe, and head lost between the highest meter and the lowest node."""
    none = pd.DataFrame({"kind": [], "pipe": np.array([], dtype=np.int64), "share": []})
    zone = true_zone(
        drawn, none, head_m=1000.0, background=Background(), condition_factor_index=0.0
    )
    state = solve(zone.model, use_l_s)
    return state.flow_l_s, float(state.head_m[drawn.meters["node"]].max() - state.head_m.min())
