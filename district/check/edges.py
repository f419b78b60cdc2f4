"""Pipes that run over the edge of a zone's outline with neither meter nor shut valve.

Outlines are drawn by hand and pipes run along them, so a crossing counts only where a real
stretch of main lies on both sides of it: the pipes are cut at the outlines, and the stretches of
one cell on one side are put together to patches.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pandas as pd
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from district.check.patches import zone_patches
from district.check.wording import file_of
from district.errors import Finding
from district.network import Network
from district.results import Inputs
from district.words import listed, natural, natural_key

SLACK_M = 25.0
"""A patch with less main than this is the drawing of the edge, not water going over it."""
_SHOWN = 50


def edge_crossings(network: Network, inputs: Inputs) -> list[Finding]:
    """One finding for each pipe and pair of zones ('' is the ground outside every zone).

    A main that brings water past or through a zone without serving anybody in it is none, nor is
    what a patch of less than `SLACK_M` makes.
    """
    if network.zones.empty or network.pipes.empty:
        return []
    crossings = _crossings(network)
    ordered = sorted(crossings, key=lambda c: (natural_key(c[0]), c[1], c[2]))
    source = file_of(inputs, "pipes")
    expected = "a zone meter or a shut valve where a pipe leaves a zone"
    found = [
        Finding(
            "warning",
            source,
            f"pipe {pipe_id}",
            "geometry",
            got=f"a pipe that crosses from {_named(one)} to {_named(two)} "
            "with neither meter nor shut valve",
            expected=expected,
            remedy="Add the meter or the shut valve, or correct the zone's outline; "
            "the balance follows the pipe",
        )
        for pipe_id, one, two in ordered[:_SHOWN]
    ]
    rest = ordered[_SHOWN:]
    if rest:
        found.append(
            Finding(
                "warning",
                source,
                f"pipes {listed(c[0] for c in rest)}",
                "geometry",
                got=f"{len(natural(c[0] for c in rest))} more pipes that cross a zone's edge "
                "with neither",
                expected=expected,
                remedy="Add the meters or the shut valves, or correct the outlines",
            )
        )
    return found


def _named(zone_id: str) -> str:
    return f"zone {zone_id}" if zone_id else "outside every zone"


def _crossings(network: Network) -> set[tuple[str, str, str]]:
    """Pipe, and the two zones between which it lets water pass."""
    patches, joints = zone_patches(network)
    if joints.empty:
        return set()
    carries = network.cells["zone_ids"].map(bool)
    # A main of no zone that serves nobody in one only brings water, past or through it.
    patches["at_home"] = patches["cell_id"].map(carries).to_numpy(dtype=bool)
    patches["serves"] = (patches["connections_count"] > 0) & (patches["zone_id"] != "")
    zone, home, serves = (patches[c].to_numpy() for c in ("zone_id", "at_home", "serves"))
    found = set()
    for one, two, pipe_id in _meetings(patches, joints):
        if zone[one] != zone[two] and (home[one] or serves[one] or serves[two]):
            ends = sorted([zone[one], zone[two]], key=lambda z: (z == "", natural_key(z)))
            found.add((pipe_id, *ends))
    return found


def _meetings(patches: pd.DataFrame, joints: pd.DataFrame) -> list[tuple[int, int, str]]:
    """Pairs of patches of some length that meet, at once or by way of short ones, and the pipe."""
    one, two = joints["one"].to_numpy(), joints["two"].to_numpy()
    pipes = [natural(pair)[0] for pair in joints[["one_pipe_id", "two_pipe_id"]].to_numpy()]
    short = (patches["length_m"] <= SLACK_M).to_numpy()
    size = len(patches)
    between = short[one] & short[two]
    links = (np.ones(int(between.sum())), (one[between], two[between]))
    _, cluster = connected_components(coo_array(links, shape=(size, size)), directed=False)
    met: list[tuple[int, int, str]] = []
    beside: dict[int, dict[int, list[str]]] = {}
    for a, b, pipe_id in zip(one.tolist(), two.tolist(), pipes, strict=True):
        if not short[a] and not short[b]:
            met.append((a, b, pipe_id))
        elif short[a] != short[b]:
            small, large = (a, b) if short[a] else (b, a)
            beside.setdefault(int(cluster[small]), {}).setdefault(large, []).append(pipe_id)
    for large in beside.values():
        for a, b in combinations(sorted(large), 2):
            met.append((a, b, natural([*large[a], *large[b]])[0]))
    return met
