"""Where a leak is by how much later its noise comes to one of two sensors than to the other."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
import pandas as pd
import shapely
from scipy.special import expit, ndtr

from district.break_rates import Reals
from district.hydraulics.noise_loss import LOUD_DB, loss_db_per_m
from district.hydraulics.wave_speed import speeds_m_s
from district.locate.pooling import Wholes
from district.locate.scene import Scene, Z, tempered, there_share, too_early
from district.locate.spots import Evidence
from district.network.ways import (
    costs,
    device_points,
    pieces_between,
    pipes_in_order,
    places_at,
    ways,
)
from district.words import missing, plural

FALSE_PEAK = 0.1
"""Chance that the peak is of something else: use, a pump, a bend. Common practice, no source."""
_WRONG = 0.05
_MEASURED_SPREAD = 0.03
"""95 % limit of a speed measured on the spot. Common practice, no source."""
_PLACED_M = 1.0
"""Standard deviation of where on the pipe a sensor sits."""
_NEAR_M = 5.0
"""Spots of the zone must be as near to the way between the sensors, or it is of another zone."""
_LEAST_MS = 0.2
_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(11)


def leak_position_m(length_m: Reals, wave_speed_m_s: Reals, delay_s: float) -> float:
    """Metres from the other sensor to the leak, along the pieces of pipe from it to the first.

    Parameters: `length_m`, `wave_speed_m_s` (K) of the pieces in order from the other sensor,
    `delay_s` by which the noise comes later to the first. Of one piece this is (L - v TD) / 2,
    Thornton, Sturm & Kunkel 2008, pp. 271-272 (there the bracket is missing in the text; figure
    16.10, L = 2 l + TD v, has it). A delay beyond what the way allows gives an end of it.

    >>> round(leak_position_m(np.array([100.0]), np.array([1250.0]), 0.024), 6)
    35.0
    """
    time = np.concatenate([[0.0], np.cumsum(length_m / wave_speed_m_s)])
    metres = np.concatenate([[0.0], np.cumsum(length_m)])
    return float(np.interp((time[-1] - delay_s) / 2, time, metres))


@dataclass(frozen=True, eq=False)
class _Heard:
    """One correlation on the map: by spot the delays at its two ends, its distance off the way and
    the loss to the farther sensor; pieces of the way from the other sensor to the first; metres of
    the sensors from the nearest pipe."""

    early_s: Reals
    late_s: Reals
    off_m: Reals
    loss_db: Reals
    length_m: Reals
    pipe: Wholes
    speed_m_s: Reals
    spread_share: float
    apart_m: Reals


def correlation_evidence(scene: Scene, correlations: pd.DataFrame) -> list[Evidence]:
    """What the correlations on the zone's pipes say: one piece of evidence a row that cannot
    count, and one for each two places that were listened at.

    `correlations`: input table CORRELATIONS. The delay at a spot is the difference of the quickest
    ways of sound to both sensors, so a leak on a branch shows as one at its tee, and one beyond a
    sensor as one at it. A peak may be false. Measured again between the same places, the speed of
    sound is as far off as before and a false peak is there again: repeats count as one.
    """
    told, pairs = [], dict[frozenset[str], list[tuple[Any, _Heard, Reals]]]()
    for row, heard in _on_the_map(scene, correlations):
        why = _unusable(scene, row, heard)
        if why:
            told.append(scene.unused("correlator", why))
            continue
        each = (row, heard, _log_likelihood(scene, row, heard))
        pairs.setdefault(frozenset((row.first_id, row.other_id)), []).append(each)
    return told + [_told(scene, repeats) for repeats in pairs.values()]


def correlated_pipes(scene: Scene, correlations: pd.DataFrame) -> set[tuple[date, str]]:
    """Day and pipe of the layer of all that lies between the sensors of correlations that count."""
    names = pipes_in_order(scene.network)["layer_pipe_id"].to_numpy()
    return {
        (row.date.date(), str(name))
        for row, heard in _on_the_map(scene, correlations)
        if not _unusable(scene, row, heard)
        for name in names[heard.pipe]
    }


def _on_the_map(scene: Scene, correlations: pd.DataFrame) -> Iterator[tuple[Any, _Heard]]:
    """The correlations whose way touches the zone."""
    points = device_points(scene.network)
    for row in correlations.itertuples(index=False):
        if not {row.first_id, row.other_id} <= set(points.index) or missing(row.delay_ms):
            continue
        heard = _heard(scene, [points[row.first_id], points[row.other_id]], row)
        if heard is not None and (heard.off_m < _NEAR_M).any():
            yield row, heard


def _heard(scene: Scene, sensors: list[Any], row: Any) -> _Heard | None:
    """The correlation on the map, None where no pipe joins its ends."""
    ends = places_at(scene.network, sensors)
    network, pipes = scene.network, pipes_in_order(scene.network)
    speed, spread = speeds_m_s(pipes["material"])
    if not missing(row.wave_speed_m_s):
        speed = np.full(len(pipes), float(row.wave_speed_m_s))
        spread = np.full(len(pipes), _MEASURED_SPREAD)
    metres = ways(network)
    pipe, share = pieces_between(metres, ends.one(1), ends.one(0))
    length = metres.cost[pipe] * share
    if not length.sum() > 0:
        return None
    scale = 1.0 if missing(row.length_m) else float(row.length_m) / float(length.sum())
    spot, middle = scene.spots.pipe[scene.own], scene.spots.share[scene.own]
    half = scene.spots.length_m[scene.own] / metres.cost[spot] / 2
    to, seconds = (ends, spot, middle), ways(network, 1 / speed)
    lost = costs(ways(network, loss_db_per_m(pipes["material"])), *to)
    at_ends = [
        scale * _later(costs(seconds, ends, spot, np.clip(middle + side * half, 0, 1)))
        for side in (-1, 1)
    ]
    return _Heard(
        early_s=np.minimum(*at_ends),
        late_s=np.maximum(*at_ends),
        off_m=(costs(metres, *to).sum(axis=0) - length.sum()) / 2,
        loss_db=lost.max(axis=0),
        length_m=length * scale,
        pipe=pipe[share > 0],
        speed_m_s=speed[pipe],
        spread_share=float(np.average(spread[pipe], weights=length)),
        apart_m=shapely.distance(pipes.geometry.to_numpy()[ends.pipe], np.array(sensors)),
    )


def _later(arrives: Reals) -> Reals:
    """How much later sound comes to the first of two sensors (2, S); far beyond any delay where no
    pipe leads to them."""
    nowhere = ~np.isfinite(arrives).all(axis=0)
    first, other = np.where(nowhere, 0.0, arrives)
    return np.asarray(np.where(nowhere, 1e6, first - other))


def _head(row: Any) -> str:
    return f"Correlation of {row.first_id} and {row.other_id} on {row.date.date()}"


def _slowest_s(heard: _Heard) -> float:
    return float((heard.length_m / heard.speed_m_s).sum()) * (1 + heard.spread_share)


def _spread_s(row: Any) -> float:
    return float(max(row.spread_ms, _LEAST_MS)) / 1000


def _unusable(scene: Scene, row: Any, heard: _Heard) -> str:
    """Why a correlation cannot count, '' where it can."""
    if there_share(scene, row.date.date()) == 0:
        return f"{_head(row)}: {too_early(scene)}"
    far = int(heard.apart_m.argmax())
    if heard.apart_m[far] > scene.settings.locate.connection_snap_m:
        name = (row.first_id, row.other_id)[far]
        return f"{_head(row)}: {name} is drawn {heard.apart_m[far]:.0f} m from every pipe in use"
    if abs(row.delay_ms) / 1000 <= _slowest_s(heard) + _spread_s(row):
        return ""
    return (
        f"{_head(row)}: a delay of {abs(row.delay_ms):g} ms is more than the "
        f"{_slowest_s(heard) * 1000:.0f} ms that sound takes at most over "
        f"{heard.length_m.sum():.0f} m of pipe"
    )


def _told(scene: Scene, repeats: list[tuple[Any, _Heard, Reals]]) -> Evidence:
    row, heard, _ = repeats[0]
    likely = np.mean([each for _, _, each in repeats], axis=0)
    said = _said(_head(row), row, heard)
    if len(repeats) > 1:
        more = plural(len(repeats) - 1, "time")
        said += f" Measured {more} more until {repeats[-1][0].date.date()}, counted as one."
    return scene.evidence("correlator", said, likely)


def _log_likelihood(scene: Scene, row: Any, heard: _Heard) -> Reals:
    likely = _likelihood(heard, row.delay_ms / 1000, _spread_s(row), _slowest_s(heard))
    there = there_share(scene, row.date.date())
    return tempered(np.log(likely), wrong_share=_WRONG, there_share=there)


def _likelihood(heard: _Heard, delay_s: float, spread_s: float, slowest_s: float) -> Reals:
    """Density of the delay by spot: the speed's spread taken in, a share of peaks false."""
    speed = float(heard.length_m.sum() / (heard.length_m / heard.speed_m_s).sum())
    sd = np.hypot(spread_s / Z, np.hypot(_PLACED_M, _PLACED_M) / speed)
    slower = (1 + heard.spread_share / Z * _NODES)[:, None]
    # A spot stands for its length: the mean over the delays between its ends.
    early = np.minimum(heard.early_s, heard.late_s - sd / 100) * slower
    late = heard.late_s * slower
    within = ndtr((late - delay_s) / sd) - ndtr((early - delay_s) / sd)
    right = np.average(within / (late - early), axis=0, weights=_WEIGHTS)
    heard_share = expit((LOUD_DB - heard.loss_db) / 4)
    real = (1 - FALSE_PEAK) * heard_share
    return np.asarray(real * right + (1 - real) / (2 * slowest_s))


def _said(head: str, row: Any, heard: _Heard) -> str:
    length, speed = heard.length_m, heard.speed_m_s
    delay_s, slower = row.delay_ms / 1000, 1 + heard.spread_share
    middle = leak_position_m(length, speed, delay_s)
    by_speed = leak_position_m(length, speed / slower, delay_s) - middle
    by_delay = leak_position_m(length, speed, delay_s + row.spread_ms / 1000) - middle
    half = float(np.sqrt(by_speed**2 + by_delay**2 + (Z * _PLACED_M) ** 2))
    length_m = float(heard.length_m.sum())
    low, high = max(middle - half, 0.0), min(middle + half, length_m)
    order = "later" if row.delay_ms >= 0 else "earlier"
    return (
        f"{head}: the noise came {abs(row.delay_ms):g} ms {order} to {row.first_id}, over "
        f"{length_m:.0f} m of pipe; this puts the leak {middle:.0f} m ({low:.0f} to {high:.0f}) "
        f"from {row.other_id}, or on a branch off there."
    )
