"""Where the next pressure logger or zone meter shortens the walk most, one after the other."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from district.break_rates import Reals
from district.locate.cuts import best_cuts
from district.locate.expected_walk import Contrasts, Singles, contrasts, sampled_by, walk_m
from district.locate.listening import Listening, Signs, covariance, no_signs, signs_of
from district.locate.outlook import DRAWS, Outlook, over_leaks
from district.locate.pooling import Wholes
from district.schema.columns import empty
from district.schema.located import NEXT_DEVICES

LEAKS, OTHERS = 200, 1500
"""Leaks a zone is judged by, and pipes they are held against; all where they are no more."""
LEAST_SIDE_SHARE = 0.15
"""Expected leaks on the smaller side of a cut, at least. Assumption."""
_CUTS = 12
_ENDS = ("", "_low", "_high")


@dataclass(frozen=True, eq=False)
class _Option:
    """A device that might come: a logger's readings, or the pipes beyond one or two meters."""

    pipes: tuple[int, ...]
    readings: Wholes | None = None
    beyond: Any = None


@dataclass(frozen=True, eq=False)
class _Standing:
    """A zone with the devices it has and has been given: judged by J leaks against K pipes.

    told: contrasts as the model has it, then in each draw. have: readings of the loggers in place.
    """

    zone: Outlook
    heard: Listening | None
    spread: Reals
    columns: Wholes
    leaks: Wholes
    others: Wholes
    weight: Reals
    other_m: Reals
    told: tuple[Contrasts, ...]
    have: Wholes
    options: tuple[_Option, ...]


@dataclass(frozen=True, eq=False)
class _Best:
    """A zone's best option, and the metres it saves in a year for each device."""

    standing: _Standing
    option: _Option
    saved: float


def next_devices(
    zones: list[Outlook], *, flow_l_s: float, most_count: int, least_share: float
) -> pd.DataFrame:
    """Table NEXT_DEVICES: the best device to add, then the best with it in place, and so on.

    Parameters: `flow_l_s` of the leak the walk is for; `most_count` devices; one that saves less
    than `least_share` of its zone's walk is not listed, so the table may be empty. A device is
    judged by the metres it saves in a year over the leaks expected in its zone, by each device
    where a cut takes two. A logger is taken to be as good as those there are; what it would tell
    of other zones is left out, and so is what a meter tells by the pressures.
    """
    begun = [_begun(zone, flow_l_s) for zone in zones if zone.leaks_per_year.sum() > 0]
    running = [_best(standing, flow_l_s) for standing in begun if standing.options]
    rows: list[dict[str, Any]] = []
    while running and len(rows) < most_count:
        running.sort(key=lambda best: -best.saved)
        best = running.pop(0)
        after = _with(best.standing, best.option)
        row = _row(best.standing, after, best.option, flow_l_s)
        if row["gain_share"] < least_share:
            continue
        rows.append({"rank": float(len(rows) + 1), **row})
        if after.options:
            running.append(_best(after, flow_l_s))
    if not rows:
        return empty(NEXT_DEVICES)
    return pd.DataFrame(rows)[list(NEXT_DEVICES.names())]


def _begun(zone: Outlook, flow_l_s: float) -> _Standing:
    leaks, weight = sampled_by(zone.leaks_per_year, LEAKS)
    others, other_m = sampled_by(zone.length_m, OTHERS)
    columns = np.union1d(leaks, others)
    heard = None if zone.heard is None else zone.heard.only(columns)
    spread = np.zeros((0, 0)) if zone.heard is None else covariance(zone.heard, flow_l_s)
    have: Wholes = np.zeros(0, dtype=np.int64)
    at_leaks, at_others = np.searchsorted(columns, leaks), np.searchsorted(columns, others)
    signs = no_signs(len(columns), DRAWS)
    if heard is not None:
        signs, have = signs_of(heard, spread, have, heard.present()), heard.present()
    options = tuple(_options(zone))
    told = _told(signs, at_leaks, at_others)
    return _Standing(
        zone, heard, spread, columns, at_leaks, at_others, weight, other_m, told, have, options
    )


def _options(zone: Outlook) -> Iterator[_Option]:
    if zone.heard is not None:
        places = zone.heard.place[zone.heard.place >= 0]
        for place, readings in zip(places, zone.heard.wanted(), strict=True):
            yield _Option((int(place),), readings=readings)
    if zone.error_l_s == zone.error_l_s:
        cuts = best_cuts(
            zone.start,
            zone.end,
            zone.leaks_per_year,
            least_share=LEAST_SIDE_SHARE,
            most_count=_CUTS,
        )
        for cut in cuts:
            yield _Option(cut.pipes, beyond=cut.beyond)


def _told(signs: Signs, leaks: Wholes, others: Wholes) -> tuple[Contrasts, ...]:
    return tuple(contrasts(s, leaks, others) for s in (signs.middle, *signs.drawn))


def _adds(standing: _Standing, option: _Option, *, drawn: bool) -> tuple[Contrasts, ...]:
    """What a device would tell: as the model has it, and in each draw if wanted."""
    if option.readings is not None and standing.heard is not None:
        heard = (
            standing.heard
            if drawn
            else replace(
                standing.heard,
                drawn_m=standing.heard.drawn_m[:0],
                noise_share=standing.heard.noise_share[:0],
            )
        )
        signs = signs_of(heard, standing.spread, standing.have, option.readings)
        return _told(signs, standing.leaks, standing.others)
    # Of the zone's change of flow, known as a whole, the far side has its share of the noise.
    zone = standing.zone
    share = float(zone.length_m[option.beyond].sum() / zone.length_m.sum())
    error = zone.error_l_s * np.sqrt(max(share * (1 - share), 1e-3))
    sign: Singles = (option.beyond[None, standing.columns] / error).astype(np.float32)
    told = contrasts(sign, standing.leaks, standing.others)
    return (told,) * (len(standing.told) if drawn else 1)


def _walk(standing: _Standing, told: Contrasts, flow_l_s: float) -> Reals:
    zone, columns = standing.zone, standing.columns
    odds, leaks, others = zone.odds()[columns], standing.leaks, standing.others
    return walk_m(
        told,
        leak_odds=odds[leaks],
        other_odds=odds[others],
        other_m=standing.other_m,
        leak_m=zone.length_m[columns][leaks],
        same=leaks[:, None] == others,
        flow_l_s=flow_l_s,
        flow_error_l_s=zone.size_error_l_s(flow_l_s),
    )


def _mean(standing: _Standing, told: Contrasts, flow_l_s: float) -> float:
    return float(np.average(_walk(standing, told, flow_l_s), weights=standing.weight))


def _best(standing: _Standing, flow_l_s: float) -> _Best:
    """The option that saves most metres a year for each device."""
    before = _mean(standing, standing.told[0], flow_l_s)
    rate = float(standing.zone.leaks_per_year.sum())
    saved = []
    for option in standing.options:
        (more,) = _adds(standing, option, drawn=False)
        after = _mean(standing, standing.told[0] + more, flow_l_s)
        saved.append(rate * (before - after) / len(option.pipes))
    most = int(np.argmax(saved))
    return _Best(standing, standing.options[most], saved[most])


def _with(standing: _Standing, option: _Option) -> _Standing:
    more = _adds(standing, option, drawn=True)
    told = tuple(a + b for a, b in zip(standing.told, more, strict=True))
    have = standing.have
    if option.readings is not None:
        have = np.concatenate([have, option.readings])
    options = tuple(o for o in standing.options if o is not option)
    return replace(standing, told=told, have=have, options=options)


def _row(before: _Standing, after: _Standing, option: _Option, flow_l_s: float) -> dict[str, Any]:
    zone = before.zone
    names = [zone.pipe_id[i] for i in option.pipes]
    first, last = _limited(before, flow_l_s), _limited(after, flow_l_s)
    return {
        "kind": "zone_meter" if option.readings is None else "pressure_logger",
        "pipe_id": names[0],
        "pipe_2_id": names[1] if len(names) > 1 else "",
        "cell_id": zone.cell_id,
        "leak_l_s": flow_l_s,
        **{f"walk_before_m{end}": x for end, x in zip(_ENDS, first, strict=True)},
        **{f"walk_after_m{end}": x for end, x in zip(_ENDS, last, strict=True)},
        "gain_share": 1 - last[0] / first[0],
    }


def _limited(standing: _Standing, flow_l_s: float) -> tuple[float, float, float]:
    """Mean walk over the leaks expected, with limits from the draws of model, noise and prior."""
    walked = np.array([_walk(standing, told, flow_l_s) for told in standing.told])
    leaks = standing.columns[standing.leaks]
    return over_leaks(standing.zone, leaks, standing.weight, walked[0], walked[1:])
