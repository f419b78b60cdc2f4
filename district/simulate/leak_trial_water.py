"""Heads and flows of a drawn zone in truth: solved hours, and how single hours depart from them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

import numpy as np
import pandas as pd
from scipy.sparse import csr_array

from district.hydraulics import Model, Openings, State, head_sensitivity, pattern_of, solve
from district.hydraulics.model import Kind, Reals, Wholes
from district.settings import Background
from district.simulate.leak_trial_map import ZoneMap
from district.simulate.leak_trial_use import tap_shares

_NIGHT = (2, 3)
_EXPONENT = {
    "cast_iron": 0.8,
    "asbestos_cement": 0.95,
    "steel": 0.9,
    "ductile_iron": 0.7,
    "pvc": 1.4,
    "polyethylene": 1.3,
}
"""How a leak of a main follows pressure (the span surveys find, 0.5 to 1.5)."""
_SERVICE_EXPONENT = 0.9


@dataclass(frozen=True, eq=False)
class TrueZone:
    """The zone as it is, K leaks among its nodes: N nodes of the map, then one for each leak.

    model
        with the true roughness, bores and valves.
    background
        openings that always leak.
    leak_node (K), exponent (K)
        where each leak may open, and how its flow follows pressure.
    watch (W, N + K)
        loggers, then start and end of the pipe that leads to each zone meter.
    meter_link
        link that leads to each zone meter.
    """

    model: Model
    background: Openings
    leak_node: Wholes
    exponent: Reals
    watch: csr_array
    meter_link: Wholes


@dataclass(frozen=True, eq=False)
class Hours:
    """R solved hours: head_m (R, W) where it is watched, sensitivity (R, W, N + K) to what is
    drawn at the nodes, meter_l_s (R, meters), leak_l_s (R, K), and the states themselves."""

    head_m: Reals
    sensitivity: Reals
    meter_l_s: Reals
    leak_l_s: Reals
    states: tuple[State, ...]


def true_zone(
    drawn: ZoneMap,
    leaks: pd.DataFrame,
    *,
    head_m: float,
    background: Background,
    condition_factor_index: float,
    shut_pipe: int = -1,
) -> TrueZone:
    """The map as a model, with a node at the very place of each leak (table of `draw_places`).

    Loggers and leaks on one pipe keep their order along it; a connection draws at both ends of its
    pipe, by its place between them.
    """
    pipes, nodes = drawn.pipes, drawn.nodes
    stops = _stops(drawn, leaks)
    piece = pd.DataFrame(
        [
            (pipe, a, b, (to - since))
            for pipe, stop in enumerate(stops)
            for (since, a), (to, b) in pairwise(stop)
        ],
        columns=["pipe", "start", "end", "part"],
    )
    own = pipes.iloc[piece["pipe"].to_numpy()]
    ends = pipes[["start", "end"]].to_numpy()[leaks["pipe"]]
    share = leaks["share"].to_numpy()
    level = nodes["elevation_m"].to_numpy()
    at_leak = (1 - share) * level[ends[:, 0]] + share * level[ends[:, 1]]
    count, links = len(nodes) + len(leaks), len(piece)
    fixed = np.full(count, np.nan)
    fixed[drawn.source] = head_m
    model = Model(
        node_id=np.array([f"N{n:05d}" for n in range(count)], dtype=object),
        elevation_m=np.concatenate([level, at_leak]),
        fixed_head_m=fixed,
        link_id=np.array([f"{p}/{n}" for n, p in enumerate(own.index)], dtype=object),
        start=piece["start"].to_numpy(),
        end=piece["end"].to_numpy(),
        kind=np.full(links, int(Kind.PIPE)),
        length_m=own["length_m"].to_numpy() * piece["part"].to_numpy(),
        diameter_mm=own["diameter_mm"].to_numpy(),
        roughness=own["roughness_index"].to_numpy(),
        minor_k=np.zeros(links),
        is_open=(piece["pipe"] != shut_pipe).to_numpy(),
        setting_m=np.full(links, np.nan),
        pump=np.full((links, 3), np.nan),
    )
    material = pipes["material"].to_numpy()[leaks["pipe"]]
    exponent = [
        _EXPONENT[m] if kind == "main" else _SERVICE_EXPONENT
        for kind, m in zip(leaks["kind"], material, strict=True)
    ]
    return TrueZone(
        model,
        _background(drawn, count, background, condition_factor_index),
        len(nodes) + np.arange(len(leaks)),
        np.array(exponent, dtype=float),
        _watch(drawn, stops, count),
        np.array([int(np.flatnonzero(model.end == n)[0]) for n in drawn.meters["node"]]),
    )


def leaking(zone: TrueZone, use_l_s: Reals, leaks: Any, flow_l_s: Reals) -> Openings:
    """The openings with `leaks` (numbers) open, each passing its flow by night, as if alone.

    `use_l_s` (R, N) begins with the hours of a weekday.
    """
    night = _padded(zone, use_l_s[list(_NIGHT)].mean(axis=0))
    state = solve(zone.model, night, openings=zone.background)
    at = zone.leak_node[leaks]
    pressure = (state.head_m - zone.model.elevation_m)[at].clip(min=1.0)
    coefficient, exponent = (
        a.copy() for a in (zone.background.coefficient, zone.background.exponent)
    )
    coefficient[at] = flow_l_s / pressure ** zone.exponent[leaks]
    exponent[at] = zone.exponent[leaks]
    return replace(zone.background, coefficient=coefficient, exponent=exponent)


def solved_hours(
    zone: TrueZone, use_l_s: Reals, openings: Openings, *, near: Hours | None = None
) -> Hours:
    """Solve each reference hour exactly: `use_l_s` (R, N); `near`, the same hours otherwise."""
    model, watch = zone.model, zone.watch
    pattern = pattern_of(model)
    states: list[State] = []
    for row, use in enumerate(use_l_s):
        start = near.states[row] if near else states[-1] if states else None
        state = solve(model, _padded(zone, use), openings=openings, start=start, pattern=pattern)
        states.append(state)
    felt = [head_sensitivity(model, s, watch, openings=openings, pattern=pattern) for s in states]
    return Hours(
        np.stack([watch @ s.head_m for s in states]),
        np.stack(felt),
        np.stack([s.flow_l_s[zone.meter_link] for s in states]),
        np.stack([s.leakage_l_s[zone.leak_node] for s in states]),
        tuple(states),
    )


def single_hours(hours: Hours, reference: Wholes, departure_l_s: Reals) -> tuple[Reals, Reals]:
    """Heads at the loggers (T, G) and flows of the zone meters (T, meters) of single hours.

    Parameters: `reference` (T) rows of `hours`; `departure_l_s` (T, N), what is drawn beyond the
    use of that row. Heads by first order about the solved hour. Flows of several meters share by
    the slope of each feed and make up inflow exactly: use, departure and leakage together, the
    leakage being that of the solved hour.
    """
    meters, nodes = hours.meter_l_s.shape[1], departure_l_s.shape[1]
    head = hours.head_m[reference].copy()
    for row in np.unique(reference):
        own = reference == row
        head[own] += departure_l_s[own] @ hours.sensitivity[row, :, :nodes].T
    usual = hours.meter_l_s[reference]
    more = departure_l_s.sum(axis=1, keepdims=True)
    loggers = head.shape[1] - 2 * meters
    if meters == 1:
        return head[:, :loggers], usual + more
    drop, usual_drop = (
        h[:, loggers::2] - h[:, loggers + 1 :: 2] for h in (head, hours.head_m[reference])
    )
    # By a power of 1 / 1.852 of the loss in the feed (Hazen-Williams).
    own = usual / 1.852 * (drop - usual_drop) / usual_drop
    return head[:, :loggers], usual + own + (more - own.sum(axis=1, keepdims=True)) / meters


def _padded(zone: TrueZone, use_l_s: Reals) -> Reals:
    return np.concatenate([use_l_s, np.zeros(len(zone.leak_node))])


def _stops(drawn: ZoneMap, leaks: pd.DataFrame) -> list[list[tuple[float, int]]]:
    """Places along each pipe and their nodes: its ends, and the leaks between them."""
    stops = [[(0.0, int(a)), (1.0, int(b))] for a, b in drawn.pipes[["start", "end"]].to_numpy()]
    for leak, (pipe, share) in enumerate(zip(leaks["pipe"], leaks["share"], strict=True)):
        stops[pipe].insert(-1, (float(share), len(drawn.nodes) + leak))
    return [sorted(s) for s in stops]


def _watch(drawn: ZoneMap, stops: list[list[tuple[float, int]]], count: int) -> csr_array:
    rows: list[int] = []
    columns: list[int] = []
    weights: list[float] = []
    for row, (pipe, share) in enumerate(
        zip(drawn.loggers["pipe"], drawn.loggers["share"], strict=True)
    ):
        after = next(n for n, (at, _) in enumerate(stops[pipe]) if at >= share)
        (since, a), (to, b) = stops[pipe][after - 1], stops[pipe][after]
        part = (share - since) / (to - since)
        rows, columns, weights = [*rows, row, row], [*columns, a, b], [*weights, 1 - part, part]
    fed = drawn.pipes[drawn.pipes["end"].isin(drawn.meters["node"])].sort_values("end")
    ends = fed[["start", "end"]].to_numpy().ravel()
    rows += [len(drawn.loggers) + n for n in range(len(ends))]
    return csr_array(
        ([*weights, *np.ones(len(ends))], (rows, [*columns, *ends])),
        shape=(len(drawn.loggers) + len(ends), count),
    )


def _background(
    drawn: ZoneMap, count: int, background: Background, condition_factor_index: float
) -> Openings:
    pipes, taps = drawn.pipes, drawn.taps
    l_h = np.zeros(count)
    half = background.mains_l_km_h * pipes["length_m"].to_numpy() / 1000 / 2
    for end in ("start", "end"):
        np.add.at(l_h, pipes[end].to_numpy(), half)
    by_tap = background.connection_l_connection_h + background.private_l_km_h * (
        taps["private_pipe_m"].to_numpy() / 1000
    )
    l_h[: len(drawn.nodes)] += tap_shares(drawn).T @ by_tap
    l_h[drawn.source] = 0.0
    return Openings(
        form="power",
        coefficient=condition_factor_index * l_h / 3600 / 50.0**background.exponent,
        exponent=np.full(count, background.exponent),
        area_m2=np.zeros(count),
        slope_m=np.zeros(count),
    )
