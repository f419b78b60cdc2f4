"""Zone meters as causes of a gap: the share each alone would have to read high."""

from __future__ import annotations

import numpy as np
import pandas as pd

from district.balance.annual import YEAR_D
from district.balance.gap_scene import LEAST_M3, Scene, night_means, per
from district.balance.grids import days_of, grid
from district.balance.indicators import ratio
from district.estimates import Z_95

MOST_PERCENT = 100.0
"""Of the reading: no more than all of it can be too much."""


def meter_causes(scene: Scene) -> pd.DataFrame:
    """Rows of table GAP_CAUSES, as of `closing_values`, one a zone meter and place it bounds."""
    layout, inside = scene.layout, np.flatnonzero(scene.known)
    means = scene.volumes.edge_means_m3_d(layout, counted=scene.counted)[inside].tocoo()
    errors = np.abs(
        scene.volumes.edge_errors_m3_d(layout, counted=scene.counted)[inside].tocoo().data
    )
    nights = days_of(scene.night_flows["night"].drop_duplicates())
    flows = pd.DataFrame(
        grid(scene.night_flows, row="night", value="flow_l_s", rows=nights, columns=layout.meters)
    )
    at_night = flows.mean().to_numpy(dtype=float)
    sign = np.asarray(layout.signs[inside][means.row, means.col]).ravel()
    per_flow = night_means(scene)[0]
    night = sign * np.nan_to_num(at_night[means.col]) * per_flow[means.row]
    edges = pd.DataFrame(
        {
            "area": means.row + 1,
            "meter": means.col,
            "hangs": means.data * YEAR_D - night,
            "share": per(np.abs(means.data))(errors),
        }
    )
    # What a tank stores is among the meters, but no meter reads it.
    edges = edges[~np.isin(edges["meter"], layout.meters.get_indexer(list(layout.tanks)))]
    outer = edges[~edges["meter"].duplicated(keep=False)]
    edges = pd.concat([outer.assign(area=0), edges], ignore_index=True)
    hangs = edges["hangs"].to_numpy(dtype=float)
    size = np.where(np.abs(hangs) > LEAST_M3, hangs, np.nan)
    closing = 100.0 * scene.gap_m3[edges["area"]] / size
    return pd.DataFrame(
        {
            "area": edges["area"],
            "input": [f"zone meter {m} reads high" for m in layout.meters[edges["meter"]]],
            "value": 0.0,
            "closing_value": closing,
            "unit": "%",
            "deviations_index": ratio(np.abs(closing), 100.0 * edges["share"] / Z_95),
            "possible": np.abs(closing) <= MOST_PERCENT,
        }
    )
