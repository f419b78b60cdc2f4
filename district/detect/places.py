"""The series to test: one a zone and one a building, on common nights, with what was found."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from district.detect.baseline import Reals, noise_l_s, noise_limits_l_s, regular, without_rhythm
from district.detect.change import FIRST_NIGHTS, Change, changes
from district.network import Network
from district.schema.located import NIGHT_NOISE
from district.settings import Settings
from district.units import M3_PER_L_S_H


@dataclass(frozen=True, eq=False)
class Place:
    """One series on the common nights, and what was found in it."""

    kind: str
    place_id: str
    cell_id: str
    flow_l_s: Reals
    sigma_l_s: float
    sigma_limits_l_s: tuple[float, float]
    m3_per_l_s: Reals
    """Volume of the day that each L/s at night stands for."""
    error_share: float
    """95 % limit of the meters' error: of sizes and volumes."""
    factor_share: float
    """95 % limit of the night-to-day factor: of volumes only."""
    changes: tuple[Change, ...]

    def last(self) -> int:
        """Last night with a value."""
        return int(np.flatnonzero(np.isfinite(self.flow_l_s))[-1])


def common_nights(*frames: pd.DataFrame) -> pd.DatetimeIndex:
    """Every date from the first to the last night of the tables; empty without nights."""
    dates = pd.to_datetime(pd.concat([f["night"] for f in frames if len(f)] or [pd.Series([])]))
    if dates.empty:
        return pd.DatetimeIndex([])
    return pd.date_range(dates.min(), dates.max(), freq="D")


def prepared(
    nights: pd.DataFrame, building_nights: pd.DataFrame, network: Network, settings: Settings
) -> tuple[list[Place], list[str]]:
    """The places with nights enough for the test, and a sentence for each that has too few."""
    axis = common_nights(nights, building_nights)
    meters = network.meters
    buildings = set(meters.index[meters["role"] == "building"])
    measured = nights[nights["status"] == "measured"] if "status" in nights else nights
    tables = [
        ("zone", measured, "cell_id", "leakage_l_s"),
        ("building", building_nights, "device_id", "flow_l_s"),
    ]
    places, thin = [], []
    for kind, frame, key, value in tables:
        for name, rows in frame.groupby(key, sort=True):
            place_id = str(name)
            if kind == "building" and place_id not in buildings:
                continue
            flow = regular(rows["night"], rows[value]).reindex(axis)
            count = int(flow.notna().sum())
            if count <= FIRST_NIGHTS:
                thin.append(
                    f"{kind} {place_id}: {count} usable nights, more than {FIRST_NIGHTS} are "
                    "needed before a change can be seen."
                )
                continue
            percent = _error_percent(kind, place_id, network)
            factor, factor_share = _day_factor(rows, axis)
            even = without_rhythm(flow)
            x = even.to_numpy(dtype=float)
            floor = settings.events.smallest_l_s / 3
            sigma = noise_l_s(even, floor_l_s=floor)
            found = changes(
                x,
                sigma_l_s=sigma,
                false_alarms_per_year=settings.events.false_alarms_per_year,
            )
            cell = place_id if kind == "zone" else str(meters["cell_id"].get(place_id, "") or "")
            places.append(
                Place(
                    kind,
                    place_id,
                    cell,
                    x,
                    sigma,
                    noise_limits_l_s(even, floor_l_s=floor),
                    factor * M3_PER_L_S_H,
                    percent / 100,
                    factor_share,
                    found,
                )
            )
    return places, thin


def noise_table(places: list[Place]) -> pd.DataFrame:
    """Table NIGHT_NOISE: the noise of each zone that the change test held its nights against."""
    rows = [
        {
            "cell_id": p.place_id,
            "nights_count": float(np.isfinite(p.flow_l_s).sum()),
            "noise_l_s": p.sigma_l_s,
            "noise_l_s_low": p.sigma_limits_l_s[0],
            "noise_l_s_high": p.sigma_limits_l_s[1],
        }
        for p in places
        if p.kind == "zone"
    ]
    return pd.DataFrame(rows, columns=list(NIGHT_NOISE.names()))


def _day_factor(rows: pd.DataFrame, axis: pd.DatetimeIndex) -> tuple[Reals, float]:
    name = "night_day_factor_h_d"
    if name not in rows or not rows[name].notna().any():
        return np.full(len(axis), 24.0), 0.0
    factor = regular(rows["night"], rows[name]).reindex(axis)
    share = 0.0
    if {f"{name}_low", f"{name}_high"} <= set(rows):
        half = (rows[f"{name}_high"] - rows[f"{name}_low"]) / 2 / rows[name]
        share = float(np.nan_to_num(half.median()))
    return factor.fillna(factor.median()).to_numpy(dtype=float), share


def _error_percent(kind: str, place_id: str, network: Network) -> float:
    """The largest error among the meters a place is measured by; 0 where none is known."""
    bounds, meters = network.boundaries, network.meters
    if kind == "zone":
        sides = bounds[["upstream_cell_id", "downstream_cell_id"]]
        percent = bounds.loc[(sides == place_id).any(axis=1), "error_percent"].max()
    else:
        percent = meters["error_percent"].get(place_id, 0.0) if "error_percent" in meters else 0.0
    return float(np.nan_to_num(percent))
