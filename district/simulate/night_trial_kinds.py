"""Two neighbouring zones by the hour, before and after one change of known kind."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from district.network import Network
from district.schema.columns import empty
from district.schema.inputs import WORKS
from district.schema.outputs import NIGHTS
from district.settings import Events, Settings
from district.simulate.night_trial_changes import CHANGES, NESTED, Changed, put_on
from district.simulate.night_trial_course import Values
from district.simulate.night_trial_hours import HOURS, draw_zone_hours
from district.simulate.night_trial_map import row_of_zones

BEFORE_DAYS, AFTER_DAYS = 60, 30
TURNS = (
    *("step", "valve", "growth", "reads_more", "customer", "step", "between_off", "irrigation"),
    *("step", "drift", "valve", "pool", "growth", "construction", "step", "stuck", "valve"),
)
"""What changes, in turn by seed."""
_ZONES = ("Z01", "Z02")
Flags = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class KindTrial:
    """Two zones as `detect.find_events` takes them, and the truth.

    network, nights, works, settings
        tables NIGHTS and WORKS (nothing recorded).
    hourly
        net inflow of the zones: cell_id, day, hour, flow_l_s.
    device_hours
        table HOURLY_FLOWS of the two meters.
    change, kind
        what happened (`CHANGES`) and its kind.
    cell_id, other_cell_id
        zone whose night flow rises, and the other.
    start, size_l_s, night_flow_l_s
        first night changed; mean rise of the zone's night flow as read, over the nights changed;
        its median before.
    """

    network: Network
    nights: pd.DataFrame
    works: pd.DataFrame
    settings: Settings
    hourly: pd.DataFrame
    device_hours: pd.DataFrame
    change: str
    kind: str
    cell_id: str
    other_cell_id: str
    start: pd.Timestamp
    size_l_s: float
    night_flow_l_s: float


def draw_kind_trial(seed: int, *, change: str = "") -> KindTrial:
    """Draw two zones and one change; the same for the same seed.

    `change` is one of `CHANGES`; by turns if not given. In half of the trials the second zone is
    fed through the first; a boundary valve, recorded shut, always lies between them.
    """
    rng = np.random.default_rng([20251118, seed])
    change = change or TURNS[seed % len(TURNS)]
    first = pd.Timestamp("2024-01-01") + pd.Timedelta(days=int(rng.integers(0, 365)))
    days = pd.date_range(first, periods=BEFORE_DAYS + AFTER_DAYS, freq="D")
    nested = bool(rng.random() < 0.5) or change in NESTED
    zones = (draw_zone_hours(rng, days), draw_zone_hours(rng, days))
    changed = put_on(rng, change, zones, days, position=BEFORE_DAYS, nested=nested)
    before = np.stack([z.flow_l_s for z in zones])
    water = before + changed.water_l_s
    error = rng.normal(1.0, 0.01, (2, 1, 1)) * rng.normal(1.0, 0.004, water.shape)
    read = _read(water, changed, error, nested=nested)
    net = _net(read, nested=nested)
    size = _rise(net - _net(_read(before, None, error, nested=nested), nested=nested), changed)
    kept = rng.random((2, len(days))) >= 0.03
    above = _ZONES[0] if nested else ""
    return KindTrial(
        row_of_zones(
            _ZONES,
            meters=[("M01", "", _ZONES[0]), ("M02", above, _ZONES[1])],
            valves=[("V01", *_ZONES)],
        ),
        _nights(rng, days, net, kept),
        empty(WORKS),
        Settings(events=Events(smallest_l_s=0.01)),
        _hours("cell_id", _ZONES, days, net, kept),
        _hours("device_id", ("M01", "M02"), days, read, kept),
        change,
        CHANGES[change],
        _ZONES[changed.zone],
        _ZONES[1 - changed.zone],
        days[changed.position],
        size,
        zones[changed.zone].night_l_s(),
    )


def _read(water: Values, changed: Changed | None, error: Values, *, nested: bool) -> Values:
    """What the two meters read: the first passes the water of both zones where they are nested."""
    through = np.stack([water[0] + water[1], water[1]]) if nested else water
    read = through * error
    if changed is None:
        return np.asarray(read)
    read = read * changed.read_share
    for meter, still in zip(read, changed.still, strict=True):
        if still.any():
            meter[still] = meter[still][0]
    return np.asarray(read)


def _net(read: Values, *, nested: bool) -> Values:
    return np.stack([read[0] - read[1], read[1]]) if nested else read


def _rise(more_l_s: Values, changed: Changed) -> float:
    """Mean rise of the night flow of the changed zone over the nights that rose."""
    by_night = more_l_s[changed.zone, changed.position :, 2:4].mean(axis=1)
    return float(by_night[by_night > 0].mean())


def _hours(
    name: str, ids: tuple[str, ...], days: pd.DatetimeIndex, flow_l_s: Values, kept: Flags
) -> pd.DataFrame:
    number, day = np.nonzero(kept)
    return pd.DataFrame(
        {
            name: np.repeat(np.array(ids, dtype=object)[number], HOURS),
            "day": np.repeat(days[day], HOURS),
            "hour": np.tile(np.arange(HOURS), len(day)),
            "flow_l_s": flow_l_s[number, day].ravel(),
        }
    )


def _nights(
    rng: np.random.Generator, days: pd.DatetimeIndex, net_l_s: Values, kept: Flags
) -> pd.DataFrame:
    """Table NIGHTS of the window from two to four; users' night use is allowed for."""
    flow = net_l_s[:, :, 2:4].mean(axis=2)
    use = np.median(flow, axis=1, keepdims=True) * rng.uniform(0.1, 0.3, (2, 1))
    number, day = np.nonzero(kept)
    own, allowed = flow[number, day], use[number, 0]
    frame = pd.DataFrame(
        {
            "cell_id": np.array(_ZONES, dtype=object)[number],
            "night": days[day],
            "status": "measured",
            "works": "",
        }
    )
    known = {
        "inflow_l_s": (own, 0.02),
        "minimum_night_flow_l_s": (own, 0.02),
        "allowed_use_l_s": (allowed, 0.2),
        "legitimate_use_l_s": (allowed, 0.2),
        "leakage_l_s": (own - allowed, 0.05),
        "night_day_factor_h_d": (np.full(len(own), 22.0), 0.03),
    }
    for column, (value, share) in known.items():
        half = share * np.abs(value)
        frame[column], frame[f"{column}_low"], frame[f"{column}_high"] = (
            value,
            value - half,
            value + half,
        )
    blank = empty(NIGHTS)
    frame = frame.reindex(columns=blank.columns)
    numbers = [c for c in blank.columns if c not in ("cell_id", "night", "status", "works")]
    return frame.astype(dict.fromkeys(numbers, float))
