"""Meters of buildings and customers: where they are and how finely they tell."""

from __future__ import annotations

import numpy as np
import pandas as pd

from district.detect.building import meter_buildings
from district.network import Network
from district.schema.inputs import RATE_KINDS

USER_ROLES = ("building", "customer")


def building_meters(network: Network) -> pd.DataFrame:
    """device_id, role, building_id, cell_id, error_share (95 %) and q1_l_s of users' meters.

    In order of device. '' where no building or zone is known; Q1, below which a meter may pass
    water untold, is Q3/R (ISO 4064-1:2014), NaN where the plate is not known.
    """
    meters = network.meters[network.meters["role"].isin(USER_ROLES)].sort_index()
    homes = meter_buildings(network)
    real = {
        name: pd.to_numeric(meters[name]).to_numpy(dtype=float)
        if name in meters
        else np.full(len(meters), np.nan)
        for name in ("error_percent", "q3_m3_h", "ratio_r")
    }
    cells = meters["cell_id"] if "cell_id" in meters else pd.Series("", index=meters.index)
    return pd.DataFrame(
        {
            "device_id": meters.index.astype(str).to_numpy(dtype=object),
            "role": meters["role"].astype(str).to_numpy(dtype=object),
            "building_id": [homes.get(str(m), "") for m in meters.index],
            "cell_id": cells.fillna("").astype(str).to_numpy(dtype=object),
            "error_share": np.nan_to_num(real["error_percent"]) / 100.0,
            "q1_l_s": real["q3_m3_h"] / real["ratio_r"] / 3.6,
        }
    )


def steps_of(devices: pd.Index[str], quality: pd.DataFrame) -> pd.DataFrame:
    """What the register of each device steps by: step_l, rate_step_l_s, step_h, by device.

    Of a meter that reports a flow the step is one of flow, of any other one of volume; the other
    is 0. NaN where neither is known.
    """
    own = quality.set_index("device_id").reindex(devices)
    step_l = own["resolution_m3"].astype(float) * 1000.0
    step_h = own["step_h"].astype(float)
    rate = own["kind"].isin(RATE_KINDS)
    return pd.DataFrame(
        {
            "step_l": step_l.where(~rate, 0.0),
            "rate_step_l_s": (step_l / (step_h * 3600.0)).where(rate, 0.0),
            "step_h": step_h,
            "rate": rate,
        }
    )
