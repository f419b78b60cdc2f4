"""The links of a model: pipes, then the valves that act on what passes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from district.hydraulics.coefficients import usual_roughness
from district.hydraulics.model import Kind, Model, Reals, Wholes
from district.hydraulics.nodes import Nodes
from district.hydraulics.parting import ACTING, Parted
from district.words import listed, plural

OPEN_LENGTH_M = 1.0
"""Length of pipe a valve counts as where it stands fully open. Assumption."""
VALVE_K = 2.5
"""Minor-loss coefficient of a check or reducing valve that stands open (common practice, no
source: 2 to 3 for a swing check valve)."""
_LEAST_LENGTH_M = 0.01
_USUAL_DIAMETER_MM = 100.0
_VALVE_C = 130.0


@dataclass(frozen=True, eq=False)
class Links:
    """Links of a `Model` (its fields), and what was assumed of them."""

    link_id: Any
    start: Wholes
    end: Wholes
    kind: Wholes
    length_m: Reals
    diameter_mm: Reals
    roughness: Reals
    minor_k: Reals
    setting_m: Reals
    said: tuple[str, ...]


def links_of(
    pipes: pd.DataFrame, valves: pd.DataFrame, parts: Parted, *, year: int | None = None
) -> Links:
    """The pipes in order, then `valves`: those of `parts`, as drawn.

    Pipes without roughness take that of their material and age in `year`, those without diameter
    100 mm; a reducing valve without setting is an open pipe.
    """
    said = []
    roughness = pipes["roughness"].to_numpy(dtype=float)
    bore = pipes["diameter_mm"].to_numpy(dtype=float)
    if count := int(np.isnan(roughness).sum()):
        said.append(f"Roughness of {plural(count, 'pipe')} is taken from material and age.")
    if count := int(np.isnan(bore).sum()):
        said.append(f"Diameter of {plural(count, 'pipe')} is taken as {_USUAL_DIAMETER_MM:g} mm.")
    roughness = np.where(np.isnan(roughness), usual_roughness(pipes, year=year), roughness)
    bore = np.where(np.isnan(bore), _USUAL_DIAMETER_MM, bore)
    setting = valves["setting_m"].to_numpy(dtype=float)
    kind = valves["kind"].map(ACTING).to_numpy(dtype=np.int64)
    unset = (kind == Kind.REDUCING) & np.isnan(setting)
    kind = np.where(unset, int(Kind.PIPE), kind)
    if unset.any():
        named = listed([str(v) for v in valves["valve_id"][unset]])
        said.append(f"Reducing valve {named} has no setting: taken as fully open.")
    widest = np.zeros(max(parts.start.max(initial=0), parts.end.max(initial=0)) + 1)
    np.maximum.at(widest, np.concatenate([parts.start, parts.end]), np.concatenate([bore, bore]))
    lone, many = np.zeros(len(pipes)), len(valves)
    return Links(
        link_id=np.array([*map(str, pipes.index), *map(str, valves["valve_id"])], dtype=object),
        start=np.concatenate([parts.start, parts.valve_start]),
        end=np.concatenate([parts.end, parts.valve_end]),
        kind=np.concatenate([np.full(len(pipes), int(Kind.PIPE)), kind]).astype(np.int64),
        length_m=np.concatenate(
            [
                np.maximum(pipes["length_m"].to_numpy(dtype=float), _LEAST_LENGTH_M),
                np.where(unset, OPEN_LENGTH_M, 0.0),
            ]
        ),
        diameter_mm=np.concatenate([bore, widest[parts.valve_start]]),
        roughness=np.concatenate([roughness, np.full(many, _VALVE_C)]),
        minor_k=np.concatenate([lone, np.full(many, VALVE_K)]),
        setting_m=np.concatenate([lone * np.nan, np.where(kind == Kind.REDUCING, setting, np.nan)]),
        said=tuple(said),
    )


def joined_model(nodes: Nodes, links: Links) -> Model:
    """Nodes and links as one `Model`, every link open."""
    count = len(links.link_id)
    return Model(
        node_id=nodes.node_id,
        elevation_m=nodes.elevation_m,
        fixed_head_m=nodes.fixed_head_m,
        link_id=links.link_id,
        start=links.start,
        end=links.end,
        kind=links.kind,
        length_m=links.length_m,
        diameter_mm=links.diameter_mm,
        roughness=links.roughness,
        minor_k=links.minor_k,
        is_open=np.ones(count, dtype=bool),
        setting_m=links.setting_m,
        pump=np.full((count, 3), np.nan),
    )
