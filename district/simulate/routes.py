"""Where the water of each zone comes from, and the head it loses on the way. No solver."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from district.simulate.scenario import RESERVOIR_HEAD_M, ZONE_IDS, ZONES, Zone

Flow = NDArray[np.float64]
POWER = 1.85
_TRUNK_LOSS_M = 3.0
_TRUNK_DESIGN_L_S = 14.0
_TRANSFER_LOSS_M = 0.25
"""At 1 L/s through the transfer main."""


def route(
    inflow: dict[str, Flow], exchange: Flow, *, reduced_head_m: float
) -> tuple[dict[str, Flow], dict[str, Flow], dict[str, Flow]]:
    """Zone meters from zone inflows (exact), then heads at inlets and losses within zones.

    `inflow` is what each zone's own area takes, L/s, by zone_id; `exchange` what passes from C4
    to V3 through no meter; `reduced_head_m` the head the reducing valve holds. Returns flows by
    meter_id (positive downstream), heads at the inlets and losses in the streets by zone_id.
    """
    zones: dict[str, Zone] = {z.zone_id: z for z in ZONES}
    net = dict(inflow)
    net["C4"] = inflow["C4"] + exchange
    net["V3"] = inflow["V3"] - exchange
    total = sum(inflow.values(), np.zeros(1))
    trunk = _TRUNK_LOSS_M * (total / _TRUNK_DESIGN_L_S) ** POWER
    along = {z.zone_id: RESERVOIR_HEAD_M - z.trunk_share * trunk for z in ZONES}
    transfer = _transfer(net["V1"], net["V2"], along, zones)
    meters = {
        "ZM-T": total,
        "ZM-C1": net["C1"] + net["C2"] + net["C3"],
        "ZM-C2": net["C2"],
        "ZM-C3": net["C3"],
        "ZM-C4": net["C4"],
        "ZM-V1": net["V1"] + transfer,
        "ZM-V2": net["V2"] - transfer,
        "ZM-V3": net["V3"],
        "ZM-V1V2": transfer,
    }
    head = {
        z: along[z] - _fall(meters[f"ZM-{z}"], zones[z].feed_m, zones[z].design_l_s)
        for z in ("C1", "C4", "V1", "V2")
    }
    head["T"] = along["T"]
    loss = {z: _fall(inflow[z], zones[z].streets_m, zones[z].design_l_s) for z in ZONE_IDS}
    for z in ("C2", "C3"):
        feed = _fall(meters[f"ZM-{z}"], zones[z].feed_m, zones[z].design_l_s)
        head[z] = head["C1"] - 0.6 * loss["C1"] - feed
    reduced = np.minimum(along["V3"], reduced_head_m)
    head["V3"] = reduced - _fall(meters["ZM-V3"], zones["V3"].feed_m, zones["V3"].design_l_s)
    return meters, head, loss


def _fall(flow: Flow, design_m: float, design_l_s: float) -> Flow:
    return np.sign(flow) * design_m * (np.abs(flow) / design_l_s) ** POWER


def _transfer(first: Flow, second: Flow, along: dict[str, Flow], zones: dict[str, Zone]) -> Flow:
    """Flow from V1 to V2 at which both ways of feeding them lose the same head.

    Halving an interval: the imbalance falls steadily as the transfer rises.
    """
    low, high = -first, second.copy()
    for _ in range(50):
        middle = (low + high) / 2
        v1, v2 = zones["V1"], zones["V2"]
        over = (
            along["V1"]
            - _fall(first + middle, v1.feed_m, v1.design_l_s)
            - along["V2"]
            + _fall(second - middle, v2.feed_m, v2.design_l_s)
            - _fall(middle, _TRANSFER_LOSS_M, 1.0)
        )
        low, high = np.where(over > 0, middle, low), np.where(over > 0, high, middle)
    return np.asarray((low + high) / 2, dtype=float)
