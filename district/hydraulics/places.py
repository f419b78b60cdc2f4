"""Where things stand on pipes."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely

from district.hydraulics.model import Reals, Wholes


def along(things: Any, pipes: Any) -> tuple[Wholes, Reals]:
    """Row of the pipe each thing stands on (-1: none), and how far along it, 0 to 1.

    Both are layers of `Network`; `things` have pipe_id.
    """
    pipe = pipes.index.get_indexer(things["pipe_id"].astype(str)).astype(np.int64)
    share = np.zeros(len(things))
    on = pipe >= 0
    lines = pipes.geometry.to_numpy()[pipe[on]]
    points = shapely.force_2d(things.geometry.to_numpy()[on])
    share[on] = shapely.line_locate_point(lines, points, normalized=True)
    return pipe, share
