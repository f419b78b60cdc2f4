"""The bore of the pipe a zone meter stands on."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd
from shapely.geometry import Point

from district.balance.meter_errors import error_l_s, meter_errors
from district.network import build_network
from district.network.bores import pipe_bores_mm
from district.results import Inputs
from district.settings import Settings

BORES = {"T1": 100.0, "A2": 80.0, "A3": 80.0, "B2": 80.0, "B3": 80.0}


def stated(with_layers: Callable[..., Inputs], x_m: float = 100.0) -> Inputs:
    plain = with_layers()
    at = [Point(x_m, 0), *plain.meters.geometry[1:]]
    return with_layers(
        pipes=plain.pipes.assign(diameter_mm=plain.pipes["pipe_id"].map(BORES)),
        meters=plain.meters.set_geometry(at, crs=plain.meters.crs),
    )


def test_zone_meters_take_their_pipe_and_others_none(with_layers: Callable[..., Inputs]) -> None:
    inputs = stated(with_layers)
    assert pipe_bores_mm(inputs).to_dict() == {"M1": 100.0, "M2": 80.0}
    meters = build_network(inputs, settings=Settings()).meters
    assert meters["pipe_bore_mm"].fillna(-1).to_dict() == {"M1": 100.0, "M2": 80.0, "C1": -1}


def test_none_where_pipes_differ_or_any_is_assumed(with_layers: Callable[..., Inputs]) -> None:
    # At x 200 the 100 mm pipe meets two of 80 mm.
    assert pipe_bores_mm(stated(with_layers, 200.0)).to_dict() == {"M2": 80.0}
    used = pd.DataFrame(
        {"table": ["pipes"], "column": ["diameter_mm"], "rows_count": [1], "value": ["110"]}
    )
    assert pipe_bores_mm(with_layers(defaults=used)).empty


def test_slow_flow_widens_a_transit_time_meter_without_a_bore(
    with_layers: Callable[..., Inputs],
) -> None:
    inputs = stated(with_layers)
    meters = inputs.meters.assign(kind="transit_time", path_length_mm=200.0)
    network = build_network(
        with_layers(pipes=inputs.pipes, meters=meters), settings=Settings()
    ).meters
    ids = pd.Index(["M1"], dtype=object)
    errors = meter_errors(ids, pd.Series([2.0], index=ids), network)
    # 0.2 L/s in 100 mm is Re 1960 at 10 °C (4 Q / (π D ν)), between laminar and turbulent:
    # ±11 % (common practice, no source) with the ±2 % twice.
    share = error_l_s(np.array([0.2]), errors)[0] / 0.2
    assert 0.113 < share < 0.116
