"""A drawn zone as it truly is: a model with a node at the very place of each leak."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import pandas as pd
from scipy.sparse import csr_array

from district.hydraulics import Kind, Model, Openings
from district.hydraulics.model import Reals, Wholes
from district.settings import Background
from district.simulate.leak_trial_map import ZoneMap, along
from district.simulate.leak_trial_use import tap_shares
from district.simulate.leaks import EXPONENT

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
    level = nodes["elevation_m"].to_numpy()
    count, links = len(nodes) + len(leaks), len(piece)
    fixed = np.full(count, np.nan)
    fixed[drawn.source] = head_m
    model = Model(
        node_id=np.array([f"N{n:05d}" for n in range(count)], dtype=object),
        elevation_m=np.concatenate([level, along(drawn, level, leaks)]),
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
        EXPONENT[m] if kind == "main" else _SERVICE_EXPONENT
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
