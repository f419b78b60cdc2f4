"""The true model solved for every quarter hour."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

import geopandas as gpd
import numpy as np
from numpy.typing import NDArray

from district.hydraulics import Model, Openings, State, pattern_of, solve
from district.hydraulics.model import Flags, Reals
from district.simulate.clock import Clock
from district.simulate.draws import BACKGROUND_EXPONENT, REFERENCE_M, Draws
from district.simulate.layout import Layout
from district.simulate.leaks import course
from district.simulate.step_test import models_by_step
from district.simulate.story import SEEDS
from district.simulate.true_model import Mark, TrueModel

_OPEN_VALVE_K = 1.15e4
"""Loss coefficient of the valve left open: it does not quite reach its seat."""


@dataclass(frozen=True, eq=False)
class Leaking:
    """Openings of N nodes over T quarter hours.

    coefficient, exponent (N)
        of background leakage, and at the leaks' nodes (F) of the leaks.
    node (F), course_l_s (T, F), reference_m (F)
        each leak's node, its stated flow, and the pressure at which it would flow so.
    """

    coefficient: Reals
    exponent: Reals
    node: NDArray[np.int64]
    course_l_s: Reals
    reference_m: Reals

    def openings(self, step: int) -> Openings:
        """The openings of one quarter hour."""
        coefficient = self.coefficient.copy()
        stated = self.reference_m ** self.exponent[self.node]
        coefficient[self.node] = self.course_l_s[step] / stated
        return _openings(coefficient, self.exponent)


@dataclass(frozen=True, eq=False)
class States:
    """S solved quarter hours: head_m, missed_l_s (wanted where a shut valve let nothing through)
    and leakage_l_s (S, N), flow_l_s (S, L)."""

    steps: slice
    head_m: Reals
    missed_l_s: Reals
    leakage_l_s: Reals
    flow_l_s: Reals


def leaking(
    clock: Clock, true: TrueModel, drawn: Draws, leaks: gpd.GeoDataFrame, background_l_s: Reals
) -> Leaking:
    """Openings of the district: `background_l_s` (N) flows at 50 m of pressure; a leak flows as
    stated at its place's pressure of an ordinary night without leaks."""
    model = true.model
    node = np.array([true.node(str(seed)) for seed in leaks.index], dtype=np.int64)
    exponent = np.full(len(model.node_id), BACKGROUND_EXPONENT)
    exponent[node] = leaks["exponent"].to_numpy(dtype=float)
    coefficient = background_l_s / REFERENCE_M**BACKGROUND_EXPONENT
    by_seed = {s.seed_id: course(s, clock) for s in SEEDS}
    ordinary = solve(model, drawn.mean_l_s(clock.night), openings=_openings(coefficient, exponent))
    return Leaking(
        coefficient=coefficient,
        exponent=exponent,
        node=node,
        course_l_s=np.column_stack([by_seed[str(seed)] for seed in leaks.index]),
        reference_m=(ordinary.head_m - model.elevation_m)[node],
    )


def solved(
    clock: Clock,
    layout: Layout,
    true: TrueModel,
    drawn: Draws,
    leaking: Leaking,
    *,
    tested: tuple[Mark, ...] = (),
) -> Iterator[States]:
    """All quarter hours, a month or less at a time; `tested` are the valves of the step test.

    Where nothing is reached, the head is the ground's: no pressure.
    """
    models = _models(clock, layout, true, tested)
    month = np.flatnonzero(np.diff(drawn.month)) + 1
    cuts = sorted({0, *month.tolist(), *models, len(drawn.month)})
    pattern = pattern_of(true.model)
    state: State | None = None
    model = true.model
    for first, last in pairwise(cuts):
        model = models.get(first, model)
        demand = drawn.node_l_s(slice(first, last))
        head, delivered, leakage = (np.empty_like(demand) for _ in range(3))
        flow = np.empty((len(demand), len(model.link_id)))
        for row in range(len(demand)):
            openings = leaking.openings(first + row)
            state = solve(model, demand[row], openings=openings, start=state, pattern=pattern)
            head[row] = np.where(state.reached, state.head_m, model.elevation_m)
            delivered[row], leakage[row] = state.demand_l_s, state.leakage_l_s
            flow[row] = state.flow_l_s
            if not state.reached.all():
                state = None
        yield States(slice(first, last), head, demand - delivered, leakage, flow)


def _models(
    clock: Clock, layout: Layout, true: TrueModel, tested: tuple[Mark, ...]
) -> dict[int, Model]:
    """The model from each step on at which a valve is turned."""
    seed = next(s for s in SEEDS if s.what == "boundary_open")
    opened = np.flatnonzero(course(seed, clock) > 0)
    models = models_by_step(clock, true.model, tested)
    if len(opened):
        pipe = layout.pipes.set_index("device_id")["pipe_id"][seed.device_id]
        models[int(opened[0])] = opened_slightly(true.model, true.piece(pipe, 0.5)[0])
    return models


def opened_slightly(model: Model, link: int) -> Model:
    """The model with a shut link left open by a turn."""
    is_open: Flags = model.is_open.copy()
    is_open[link] = True
    minor_k = model.minor_k.copy()
    minor_k[link] = _OPEN_VALVE_K
    return replace(model, is_open=is_open, minor_k=minor_k)


def _openings(coefficient: Reals, exponent: Reals) -> Openings:
    none = np.zeros(len(coefficient))
    return Openings("power", coefficient, exponent, area_m2=none, slope_m=none)
