"""The series to test: one a zone and one a building, on common nights, with what was found."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from district.detect.baseline import Flags, Reals, noises_l_s, on_calendar
from district.detect.change import Change, refined
from district.detect.course import FIRST_NIGHTS, Alarm
from district.detect.recorded import Work
from district.detect.rhythm import day_features, season_features
from district.detect.sequential import Told, watch
from district.detect.uses import meter_jumps_l_s, used, with_uses
from district.network import Network
from district.night_noise import limit_for
from district.schema.located import NIGHT_NOISE
from district.settings import Settings
from district.units import M3_PER_L_S_H

HOURS_DAY = 24.0
_FEW = 2
"""Of so few zones none tells what they share."""
_TOGETHER = 2000
"""Places tested at once where they share nothing, for the sake of memory."""


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
    """By all nights known now."""
    alarms: tuple[Alarm, ...] = ()
    """What the test told, each by the nights up to its own: those taken back since are here too."""

    def last(self) -> int:
        """Last night with a value."""
        return int(np.flatnonzero(np.isfinite(self.flow_l_s))[-1])


def common_nights(*frames: pd.DataFrame) -> pd.DatetimeIndex:
    """Every date from the first to the last night of the tables; empty without nights."""
    dates = [pd.to_datetime(f["night"]) for f in frames if len(f)]
    if not dates:
        return pd.DatetimeIndex([])
    return pd.date_range(min(d.min() for d in dates), max(d.max() for d in dates), freq="D")


def prepared(
    nights: pd.DataFrame,
    building_nights: pd.DataFrame,
    network: Network,
    settings: Settings,
    *,
    works: Sequence[Work] = (),
) -> tuple[list[Place], list[str]]:
    """The places with nights enough for the test, and a sentence for each that has too few.

    Nights on which water was drawn as `works` record it are not judged, and move neither level
    nor noise. Zones are freed of the movement that they share; buildings are not, and have no
    season: their use follows people more than weather.
    """
    axis = common_nights(nights, building_nights)
    measured = nights[nights["status"] == "measured"] if "status" in nights else nights
    meters = network.meters
    buildings = meters.index[meters["role"] == "building"]
    own = building_nights["device_id"].isin(buildings)
    read = building_nights.loc[own, ["device_id", "night", "flow_l_s"]]
    days = day_features(axis, [(h.first, h.last or h.first) for h in settings.holidays])
    zones = _tested(
        _Kind("zone", "cell_id", "leakage_l_s", {}, _zone_errors(network)),
        measured,
        axis,
        np.column_stack([days, season_features(axis)]),
        works,
        settings,
    )
    cells = meters["cell_id"].fillna("").astype(str).to_dict()
    errors = meters["error_percent"].dropna().to_dict() if "error_percent" in meters else {}
    meter = _Kind("building", "device_id", "flow_l_s", cells, errors)
    users = _tested(meter, read, axis, days, works, settings)
    return [*zones[0], *users[0]], [*zones[1], *users[1]]


@dataclass(frozen=True)
class _Kind:
    kind: str
    key: str
    value: str
    cells: Mapping[str, str]  # where a place lies, if it is no zone itself
    errors: Mapping[str, float]  # of its meters, percent


def _tested(
    kind: _Kind,
    rows: pd.DataFrame,
    axis: pd.DatetimeIndex,
    features: Reals,
    works: Sequence[Work],
    settings: Settings,
) -> tuple[list[Place], list[str]]:
    names, flow = on_calendar(rows, kind.key, kind.value, axis)
    counts = np.isfinite(flow).sum(axis=0)
    thin = [
        f"{kind.kind} {name}: {count} usable nights, more than {FIRST_NIGHTS} are "
        "needed before a change can be seen."
        for name, count in zip(names, counts, strict=True)
        if count <= FIRST_NIGHTS
    ]
    kept = np.flatnonzero(counts > FIRST_NIGHTS)
    # What may hold a change stands first, so that the rest is told from it by its position.
    stirs = stirring(flow[:, kept], smallest_l_s=settings.events.smallest_l_s)
    stirs |= kind.kind == "zone"
    kept = np.concatenate([kept[stirs], kept[~stirs]])
    names, flow = [names[i] for i in kept], flow[:, kept]
    spans = used(works, names, axis)
    left_out = flow.copy()
    for place, own in spans.items():
        for first, last in own:
            left_out[first : last + 1, names.index(place)] = np.nan
    jump = meter_jumps_l_s(works, names, axis, flow)
    floor = settings.events.smallest_l_s / 3
    shared = kind.kind == "zone" and len(names) > _FEW
    tested_count = int(stirs.sum())
    size = max(1, len(names)) if shared else _TOGETHER
    factors, even_factor = _day_factors(rows, kind.key, axis), _every_hour(axis)
    places = []
    for begin in range(0, len(names), size):
        part = slice(begin, begin + size)
        told = (
            watch(
                left_out[:, part],
                limit=limit_for(settings.events.false_alarms_per_year),
                features=features,
                shared=shared,
                floor_l_s=floor,
                jump_l_s=jump[:, part],
            )
            if begin < tested_count
            else unstirred(left_out[:, part])
        )
        even = np.ascontiguousarray((flow[:, part] - told.rhythm_l_s).T)
        noise = noises_l_s((left_out[:, part] - told.rhythm_l_s).T, floor_l_s=floor)
        for i, (name, x) in enumerate(zip(names[part], even, strict=True)):
            sigma, low, high = (float(n[i]) for n in noise)
            marks = with_uses(told.alarms[i], x, sigma_l_s=sigma, spans=spans.get(name, ()))
            factor, factor_share = factors.get(name, (even_factor, 0.0))
            places.append(
                Place(
                    kind.kind,
                    name,
                    kind.cells.get(name, name if kind.kind == "zone" else ""),
                    x,
                    sigma,
                    (low, high),
                    factor,
                    float(kind.errors.get(name, 0.0)) / 100,
                    factor_share,
                    refined(x, sigma_l_s=sigma, alarms=marks),
                    told.alarms[i],
                )
            )
    return places, thin


def stirring(flow_l_s: Reals, *, smallest_l_s: float) -> Flags:
    """Places that may hold a change worth listing, shape (places,), of nights by places.

    A listed change lasts two nights at least and is no smaller than `smallest_l_s`: where not even
    the second-highest night stands so far above the lower nights, there is none. That spares the
    test for the many houses that draw next to nothing by night.
    """
    if not flow_l_s.size:
        return np.zeros(flow_l_s.shape[1], dtype=bool)
    ordered = np.sort(np.where(np.isfinite(flow_l_s), flow_l_s, -np.inf), axis=0)
    counts = np.isfinite(flow_l_s).sum(axis=0)
    second = ordered[-min(2, len(ordered))]
    low = np.minimum(len(ordered) - 1, len(ordered) - counts + counts // 20)
    lower = ordered[low, np.arange(flow_l_s.shape[1])]
    stirs: Flags = (second - lower >= smallest_l_s) & (counts > 1)
    return stirs


def unstirred(flow_l_s: Reals) -> Told:
    """What the test tells of places that cannot hold a change: nothing."""
    return Told(((),) * flow_l_s.shape[1], np.zeros(flow_l_s.shape))


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


def _every_hour(axis: pd.DatetimeIndex) -> Reals:
    """As much by day as by night: one value stands for all nights, and takes no room."""
    return np.broadcast_to(np.float64(HOURS_DAY * M3_PER_L_S_H), len(axis))


def _day_factors(
    rows: pd.DataFrame, key: str, axis: pd.DatetimeIndex
) -> dict[str, tuple[Reals, float]]:
    """By place the m3 a day for each L/s by night, and the share it is sure to; where known."""
    name = "night_day_factor_h_d"
    if name not in rows or not rows[name].notna().any():
        return {}
    places, factor = on_calendar(rows[rows[name].notna()], key, name, axis)
    shares: Mapping[Any, float] = {}
    if {f"{name}_low", f"{name}_high"} <= set(rows):
        half = (rows[f"{name}_high"] - rows[f"{name}_low"]) / 2 / rows[name]
        shares = half.groupby(rows[key]).median().fillna(0.0).to_dict()
    filled = pd.DataFrame(factor)
    filled = filled.fillna(filled.median()) * M3_PER_L_S_H
    return {
        place: (filled[i].to_numpy(dtype=float), float(shares.get(place, 0.0)))
        for i, place in enumerate(places)
    }


def _zone_errors(network: Network) -> dict[str, float]:
    """The largest error among the meters of each zone, percent, where one is known."""
    bounds = network.boundaries
    sides = [
        bounds.set_index(side)["error_percent"]
        for side in ("upstream_cell_id", "downstream_cell_id")
    ]
    worst = pd.concat(sides).dropna().groupby(level=0).max()
    return {str(cell): float(percent) for cell, percent in worst.items()}
