"""What the pressure loggers of a district, and loggers that it might get, hear of each zone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd
from scipy.sparse import csr_array, vstack

from district.hydraulics import head_sensitivity, pattern_of, solve
from district.hydraulics.model import Model, Reals, State, Wholes
from district.hydraulics.water import Demands, Drawn
from district.locate.listening import Listening, Singles
from district.locate.logger_noise import (
    logger_noise,
    metered_cells,
    noise_of_change,
    quiet_runs,
    usual_hours,
)
from district.locate.outlook import DRAWS
from district.locate.pressure_hours import BLOCKS_COUNT, by_block
from district.locate.spots import Heard

PLACES, ZONE_PLACES = 120, 40
"""Places for one logger more that are tried in the whole district, and in one zone at most."""
_LEAST_PLACES = 6
_FELT_M, _FELT_SHARE, _MOST_LOGGERS = 0.002, 0.02, 40
_SEED = 19_471_116
# Even steps through a normal variable, in an order that follows nothing else.
_EVEN: Reals = np.array([-0.49, 0.89, -1.53, 0.16, 1.53, -0.89, 0.49, -0.16])


@dataclass(frozen=True, eq=False)
class Site:
    """Pipes of one zone in the hydraulic model: link and middle of each, in metres."""

    cell_id: str
    link: Wholes
    x_m: Reals
    y_m: Reals


@dataclass(frozen=True, eq=False)
class _Post:
    """A zone's own: its usual spread of use, its loggers among all watched, its places."""

    site: Site
    use: Reals
    watched: Wholes
    place: Wholes
    change_m: Reals


def hear_zones(
    heard: Heard, sites: Sequence[Site], events: pd.DataFrame, *, nights_count: int
) -> dict[str, Listening]:
    """How leaks show at loggers, by cell_id; nothing where model, flows or pressures are no help.

    Parameters: `sites` of zones, of which those are heard whose inflow is metered by the hour:
    without it a leak cannot be told from use; `events` table EVENTS, whose changes part
    the days that tell the noise; `nights_count` after a leak, held against the four weeks before.
    A leak moves flow from the zone's usual use to its own place. Heads are taken as linear about
    the usual draw of each block of the day. Draws: roughness as calibrated, and how the zone's
    use is spread.
    """
    calibrated, demands = heard.calibrated, heard.demands
    known = usual_hours(demands, heard.pressures, calibrated.drawn.logger_id)
    metered = {str(c) for c in np.asarray(demands.cell_id)[metered_cells(demands)]}
    sites = [site for site in sites if site.cell_id in metered]
    if known is None or calibrated.reason or not sites:
        return {}
    hours, days = known
    drawn = calibrated.drawn
    there = np.flatnonzero(calibrated.usable)
    hours = replace(hours, pressure_m=hours.pressure_m[:, there])
    places = _places(sites)
    watch = _watch(drawn, there, sites, places)
    at = by_block(hours.drawn_l_s, hours)
    states, middle = _sensed(drawn.model, at, watch)
    use = by_block(hours.use_l_s, hours) @ demands.use
    runs = quiet_runs(days, events)
    noise = logger_noise(drawn, demands, hours, runs, middle[:, : len(there)], use)
    posts = _posts(sites, places, demands, middle, drawn.model, len(there))
    shifted = _drawn(heard, posts, at, states, watch)
    shares = np.exp(noise.log_spread * _EVEN)
    told = {}
    for post, moved in zip(posts, shifted, strict=True):
        have = np.where(post.watched < len(there), post.watched, -1)
        covariance = noise_of_change(
            noise,
            drawn,
            demands,
            middle[:, post.watched],
            use,
            have=have,
            nights_count=nights_count,
        )
        names = [str(drawn.logger_id[there[i]]) if i >= 0 else "" for i in have]
        told[post.site.cell_id] = Listening(
            tuple(names),
            np.tile(np.arange(len(have)), BLOCKS_COUNT),
            post.place,
            _flat(post.change_m),
            covariance,
            np.array([_flat(m) for m in moved]),
            shares,
        )
    return told


def _flat(by_block: Any) -> Singles:
    return np.asarray(by_block.reshape(-1, by_block.shape[-1]), dtype=np.float32)


def _places(sites: Sequence[Site]) -> list[Wholes]:
    """Pipes of each zone to try, far from each other."""
    each = int(np.clip(PLACES // len(sites), _LEAST_PLACES, ZONE_PLACES))
    return [spread_out(site.x_m, site.y_m, each) for site in sites]


def spread_out(x_m: Reals, y_m: Reals, count: int) -> Wholes:
    """Positions of at most `count` points, each the furthest from those before; in order."""
    if len(x_m) <= count:
        return np.arange(len(x_m))
    away = np.hypot(x_m - x_m.mean(), y_m - y_m.mean())
    chosen = [int(np.argmax(away))]
    away = np.full(len(x_m), np.inf)
    while len(chosen) < count:
        away = np.minimum(away, np.hypot(x_m - x_m[chosen[-1]], y_m - y_m[chosen[-1]]))
        chosen.append(int(np.argmax(away)))
    return np.unique(chosen)


def _watch(drawn: Drawn, there: Wholes, sites: Sequence[Site], places: list[Wholes]) -> csr_array:
    """Loggers there are, then every place: the middle of its pipe."""
    link = np.concatenate([s.link[p] for s, p in zip(sites, places, strict=True)])
    rows = np.tile(np.arange(len(link)), 2)
    ends = np.concatenate([drawn.model.start[link], drawn.model.end[link]])
    shape = (len(link), drawn.watch.shape[1])
    middles = csr_array((np.full(len(rows), 0.5), (rows, ends)), shape=shape)
    return csr_array(vstack([drawn.watch[there], middles]))


def _sensed(
    model: Model, at_l_s: Reals, watch: csr_array, near: list[State] | None = None
) -> tuple[list[State], Reals]:
    """States of the blocks, and m of head at each watched point for each L/s drawn (B, W, N)."""
    near_by: list[Any] = [None] * len(at_l_s) if near is None else near
    pattern = pattern_of(model)
    states = [
        solve(model, row, start=s, pattern=pattern) for row, s in zip(at_l_s, near_by, strict=True)
    ]
    return states, np.array([head_sensitivity(model, s, watch, pattern=pattern) for s in states])


def _posts(
    sites: Sequence[Site],
    places: list[Wholes],
    demands: Demands,
    middle: Reals,
    model: Model,
    loggers: int,
) -> list[_Post]:
    """Each zone with the loggers that feel it, and its places."""
    cells = [str(c) for c in demands.cell_id]
    first = loggers + np.cumsum([0, *(len(p) for p in places)])
    posts = []
    for i, site in enumerate(sites):
        use = np.asarray(demands.use[[cells.index(site.cell_id)]].todense()).ravel()
        change = _change(middle[:, :loggers], model, site.link, use)
        felt = np.ptp(change, axis=2).max(axis=0) if loggers else np.zeros(0)
        least = max(_FELT_M, _FELT_SHARE * float(felt.max(initial=0.0)))
        chosen = np.flatnonzero(felt > least)
        chosen = np.sort(chosen[np.argsort(-felt[chosen], kind="stable")[:_MOST_LOGGERS]])
        watched = np.concatenate([chosen, np.arange(first[i], first[i + 1])])
        place = np.concatenate([np.full(len(chosen), -1), places[i]])
        posts.append(
            _Post(site, use, watched, place, _change(middle[:, watched], model, site.link, use))
        )
    return posts


def _change(sensitivity: Reals, model: Model, link: Wholes, use: Reals) -> Reals:
    """m of head (B, W, P) for each L/s of leak in the middle of each pipe instead of in use."""
    ends = sensitivity[..., model.start[link]] + sensitivity[..., model.end[link]]
    return np.asarray(ends / 2 - (sensitivity @ use)[..., None])


def _drawn(
    heard: Heard, posts: list[_Post], at_l_s: Reals, states: list[State], watch: csr_array
) -> list[list[Singles]]:
    """Departures of the change (B, W, P) by zone and draw."""
    calibrated, demands = heard.calibrated, heard.demands
    drawn = calibrated.drawn
    spread = float(np.max(demands.use_spread_share, initial=0.0)) / 1.96
    taps = np.asarray((drawn.tap != 0).sum(axis=0)).ravel().clip(min=1)
    found: list[list[Singles]] = [[] for _ in posts]
    for k in range(DRAWS):
        random = np.random.default_rng([_SEED, k])
        rough = calibrated.roughness[k % len(calibrated.roughness)]
        uneven = np.exp(spread / np.sqrt(taps) * random.standard_normal(len(taps)))
        model = replace(drawn.model, roughness=rough)
        sensed = _sensed(model, at_l_s, watch, states)[1]
        for post, own in zip(posts, found, strict=True):
            use = post.use * uneven
            use = use / use.sum() if use.sum() > 0 else post.use
            change = _change(sensed[:, post.watched], model, post.site.link, use)
            own.append((change - post.change_m).astype(np.float32))
    return found
