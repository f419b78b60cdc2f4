"""The drawn pipes as the water knows them: a hydraulic model with their hidden roughness."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from scipy.sparse import csr_array

from district.hydraulics import Kind, Model
from district.hydraulics.model import Reals
from district.simulate.layout import Layout, ground_level_m
from district.simulate.scenario import REDUCED_PRESSURE_M, RESERVOIR_HEAD_M

REDUCING_SHARE = 0.3
"""How far along its link the reducing valve stands; its meter stands half-way."""
_OLD_KEEPS = 0.7
"""What iron and steel keep of the Hazen-Williams C the GIS says, on average."""
_TUBERCULATED_SHARE = 0.08
_TUBERCULATED_KEEPS = 0.45


@dataclass(frozen=True)
class Mark:
    """A place on a pipe that needs a node of its own: a leak, or a valve that splits the pipe.

    `kind` is 'leak' (one node, a metre under the ground), 'valve' or 'reducing' (two nodes and a
    link between them called `name`).
    """

    pipe_id: str
    share: float
    name: str
    kind: str


@dataclass(frozen=True, eq=False)
class TrueModel:
    """The district as a `Model` of N nodes and L links.

    node_zone (N)
        zone_id; '' at the reservoir.
    link_pipe (L)
        pipe_id of the pipe each link is a piece of; '' of a valve.
    from_share, to_share (L)
        where the piece begins and ends along its pipe.
    """

    model: Model
    node_zone: Any
    link_pipe: Any
    from_share: Reals
    to_share: Reals

    def node(self, name: str) -> int:
        """Position of the node called `name`."""
        return int(np.flatnonzero(self.model.node_id == name)[0])

    def piece(self, pipe_id: str, share: float) -> tuple[int, float]:
        """The link on which a place on a pipe lies, and how far along that link."""
        own = np.flatnonzero(self.link_pipe == pipe_id)
        link = int(own[np.searchsorted(self.to_share[own], share).clip(max=len(own) - 1)])
        begin, end = self.from_share[link], self.to_share[link]
        return link, float((share - begin) / (end - begin))

    def taps(self, pipe_id: Iterable[str], share: Iterable[float]) -> csr_array:
        """Weights (things, N) of the nodes at both ends of the piece each place lies on.

        What is drawn at a place is shared between them as a beam's load is; the head at a place
        is their mean with the same weights. Rows sum to 1.
        """
        places = [self.piece(pipe, at) for pipe, at in zip(pipe_id, share, strict=True)]
        link = np.array([p[0] for p in places], dtype=np.int64)
        along = np.array([p[1] for p in places])
        rows = np.arange(len(places))
        return csr_array(
            (
                np.r_[1.0 - along, along],
                (np.r_[rows, rows], np.r_[self.model.start[link], self.model.end[link]]),
            ),
            shape=(len(places), len(self.model.node_id)),
        )


def true_roughness(layout: Layout, rng: np.random.Generator) -> Reals:
    """Hazen-Williams C of each layer pipe as it is, not as the GIS says.

    Pipes of one material and decade share what the years did to them; each differs besides; of
    the old iron and steel a few are badly tuberculated.
    """
    pipes = layout.pipes
    said = pipes["roughness"].to_numpy(dtype=float)
    metal = pipes["material"].isin(["cast_iron", "steel"]).to_numpy()
    decade = pipes["installed_year"] // 10
    group = pipes["material"].str.cat(decade.astype(str))
    names = sorted(set(group))
    by_group = dict(zip(names, rng.lognormal(0.0, 0.08, len(names)), strict=True))
    own = rng.lognormal(0.0, 0.07, len(pipes))
    bad = metal & (rng.random(len(pipes)) < _TUBERCULATED_SHARE)
    kept = np.where(metal, _OLD_KEEPS, 1.0) * np.where(bad, _TUBERCULATED_KEEPS, 1.0)
    return np.asarray((said * group.map(by_group).to_numpy() * own * kept).clip(15, 155))


def leak_marks(leaks: gpd.GeoDataFrame) -> tuple[Mark, ...]:
    """A mark for each seeded leak, called by its seed."""
    return tuple(
        Mark(str(pipe), float(share), str(seed), "leak")
        for seed, pipe, share in zip(leaks.index, leaks["pipe_id"], leaks["share"], strict=True)
    )


def true_model(layout: Layout, roughness: Reals, marks: Iterable[Mark]) -> TrueModel:
    """The whole drawn network; `roughness` by row of `layout.pipes`, shut valves shut."""
    parts = _Parts()
    by_pipe: dict[str, list[Mark]] = {}
    for mark in (*marks, *_reducing(layout)):
        by_pipe.setdefault(mark.pipe_id, []).append(mark)
    ends = _end_levels_m(layout)
    for pipe in layout.pipes.assign(roughness=roughness).itertuples():
        to_zone = pipe.to_zone_id or pipe.zone_id
        at = parts.node(pipe.start, ends[pipe.start], "" if pipe.part == "stub" else pipe.zone_id)
        last = parts.node(pipe.end, ends[pipe.end], to_zone)
        begin = 0.0
        for mark in sorted(by_pipe.get(pipe.pipe_id, []), key=lambda m: m.share):
            place = pipe.geometry.interpolate(mark.share, normalized=True)
            level = float(ground_level_m(place.x, place.y))
            zone = pipe.zone_id if mark.share < 0.5 else to_zone
            if mark.kind == "leak":
                near = far = parts.node(mark.name, level - 1.0, zone)
            else:
                near = parts.node(f"{mark.name} near", level, zone)
                far = parts.node(f"{mark.name} far", level, zone)
                parts.fitting(mark, near, far, float(pipe.diameter_mm))
            parts.piece(pipe, at, near, (begin, mark.share))
            at, begin = far, mark.share
        parts.piece(pipe, at, last, (begin, 1.0))
    return parts.together(str(layout.pipes.loc[layout.pipes["part"] == "stub", "start"].iloc[0]))


class _Parts:
    """Nodes and links as they are gathered."""

    def __init__(self) -> None:
        self._place: dict[str, int] = {}
        self._level: list[float] = []
        self._zone: list[str] = []
        self._links: list[dict[str, Any]] = []

    def node(self, name: str, level_m: float, zone_id: str) -> int:
        if name not in self._place:
            self._place[name] = len(self._place)
            self._level.append(level_m)
            self._zone.append(zone_id)
        return self._place[name]

    def piece(self, pipe: Any, start: int, end: int, shares: tuple[float, float]) -> None:
        whole = shares == (0.0, 1.0)
        self._links.append(
            {
                "link_id": pipe.pipe_id if whole else f"{pipe.pipe_id} from {shares[0]:.4f}",
                "pipe": pipe.pipe_id,
                "start": start,
                "end": end,
                "kind": Kind.PIPE,
                "length_m": pipe.geometry.length * (shares[1] - shares[0]),
                "diameter_mm": pipe.diameter_mm,
                "roughness": pipe.roughness,
                "is_open": pipe.device != "shut",
                "from_share": shares[0],
                "to_share": shares[1],
            }
        )

    def fitting(self, mark: Mark, start: int, end: int, diameter_mm: float) -> None:
        self._links.append(
            {
                "link_id": mark.name,
                "pipe": "",
                "start": start,
                "end": end,
                "kind": Kind.REDUCING if mark.kind == "reducing" else Kind.PIPE,
                "length_m": 0.0 if mark.kind == "reducing" else 0.3,
                "diameter_mm": diameter_mm,
                "roughness": 130.0,
                "is_open": True,
                "setting_m": REDUCED_PRESSURE_M if mark.kind == "reducing" else np.nan,
            }
        )

    def together(self, source: str) -> TrueModel:
        links = pd.DataFrame(self._links)
        head = np.full(len(self._place), np.nan)
        head[self._place[source]] = RESERVOIR_HEAD_M
        model = Model(
            node_id=np.array(list(self._place), dtype=object),
            elevation_m=np.array(self._level),
            fixed_head_m=head,
            link_id=links["link_id"].to_numpy(dtype=object),
            start=links["start"].to_numpy(dtype=np.int64),
            end=links["end"].to_numpy(dtype=np.int64),
            kind=links["kind"].to_numpy(dtype=np.int64),
            length_m=links["length_m"].to_numpy(dtype=float),
            diameter_mm=links["diameter_mm"].to_numpy(dtype=float),
            roughness=links["roughness"].to_numpy(dtype=float),
            minor_k=np.zeros(len(links)),
            is_open=links["is_open"].to_numpy(dtype=bool),
            setting_m=links["setting_m"].to_numpy(dtype=float),
            pump=np.full((len(links), 3), np.nan),
        )
        return TrueModel(
            model=model,
            node_zone=np.array(self._zone, dtype=object),
            link_pipe=links["pipe"].to_numpy(dtype=object),
            from_share=links["from_share"].to_numpy(dtype=float),
            to_share=links["to_share"].to_numpy(dtype=float),
        )


def _reducing(layout: Layout) -> list[Mark]:
    link = layout.pipes[layout.pipes["device_id"] == "ZM-V3"].iloc[0]
    return [Mark(str(link["pipe_id"]), REDUCING_SHARE, "PRV-V3", "reducing")]


def _end_levels_m(layout: Layout) -> dict[str, float]:
    """Ground level at both ends of every pipe, by node name."""
    levels: dict[str, float] = {}
    for column, number in (("start", 0), ("end", -1)):
        spots = shapely.get_point(layout.pipes.geometry.to_numpy(), number)
        level = ground_level_m(shapely.get_x(spots), shapely.get_y(spots))
        levels |= dict(zip(layout.pipes[column], level.tolist(), strict=True))
    return levels
