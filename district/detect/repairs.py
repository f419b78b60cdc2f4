"""What each recorded repair did to the night flow: held against the nights before and after."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from district.detect.change import level
from district.detect.joint_repairs import as_one, together
from district.detect.places import Place
from district.detect.recorded import Work, by_place
from district.detect.repair_words import Repaired, Z, said, verdict
from district.detect.runs import Run
from district.schema.columns import empty
from district.schema.event_tables import REPAIR_CHECKS
from district.words import listed

BEFORE_NIGHTS = 28
AFTER_NIGHTS = 28
"""Most nights on either side that a repair is judged by."""
FEWEST_AFTER = 2
"""One night after may be anything."""
SOON_NIGHTS = 14
"""A rise that begins so soon after a repair is told with it."""
LATE_NIGHTS = 3
"""An end that is dated so few nights before its repair is still the repair's."""
_USUAL_SIGMAS = 4.0  # of the noise: the drop that is waited for where no event ran


def check_repairs(
    places: Sequence[Place],
    runs: Sequence[tuple[Place, Run]],
    works: Sequence[Work],
    axis: pd.DatetimeIndex,
    *,
    event_ids: Mapping[tuple[str, int], str],
    leaking: Collection[tuple[str, int]],
    smallest_l_s: float,
) -> pd.DataFrame:
    """Table REPAIR_CHECKS: one row a recorded repair and zone or building it may have eased.

     Parameters: `places` and their `runs` on the nights of `axis`; `event_ids` by place and
     position of a run, `leaking` those
    that may be leaks: a repair is held against these.

     A repair on a pipe, meter or valve counts for each zone it touches; where
     a flow ran in some of them, for these alone.

     The drop is the mean of up to four weeks of nights before less that of up to four weeks after,
     the day of the repair, the first night of a flow and nights with works left out, and not
     beyond another change or repair;
     of a growing flow, its line is taken to the day of the repair. Limits are of 95 %, from the
     noise of a night that the change test uses. Told are:

     Repairs of a place with three nights or fewer between them are held together against the
     nights before the first and after the last; each row says so.

     - too_early: so few nights after that a drop of half the rise could not be told from chance;
     - not_seen: the drop is not clearly above nothing, or below `smallest_l_s`;
     - verified: what is left of the rise is not clearly above nothing, or a tenth of it at most;
     - another_leak: it dropped, but a rise of another date goes on, or one began within two weeks;
     - partly: it dropped, and some of the same rise is left.
    """
    named = {p.place_id: p for p in places}
    own_runs: dict[str, list[Run]] = {}
    for place, run in runs:
        if (place.place_id, run.position) in leaking:
            own_runs.setdefault(place.place_id, []).append(run)
    at_place = by_place(works)
    rows = []
    for work in works:
        if work.kind != "repair":
            continue
        touched = sorted(p for p in work.places if p in named)
        groups = {p: together(work, at_place[p]) for p in touched}
        running = {p: _running(own_runs.get(p, []), as_one(groups[p]), axis) for p in touched}
        with_flow = [p for p in touched if running[p]]
        for name in with_flow or _nearest(touched, named):
            rows.append(
                _row(
                    named[name],
                    work,
                    groups[name],
                    running[name],
                    own_runs.get(name, []),
                    at_place[name],
                    axis,
                    event_ids,
                    smallest_l_s,
                )
            )
    if not rows:
        return empty(REPAIR_CHECKS)
    table = pd.DataFrame(rows, columns=list(REPAIR_CHECKS.names()))
    table = table.drop_duplicates(list(REPAIR_CHECKS.key), keep="first")
    table["repaired"] = pd.to_datetime(table["repaired"])
    order = ["repaired", "place_id", "work"]
    return table.sort_values(order, ascending=[False, True, True], ignore_index=True)


def _nearest(touched: list[str], named: Mapping[str, Place]) -> list[str]:
    """Where nothing ran: the building's own meter if the repair was there, else the zones."""
    buildings = [p for p in touched if named[p].kind == "building"]
    return buildings or touched


def _running(runs: Sequence[Run], work: Work, axis: pd.DatetimeIndex) -> list[Run]:
    """Runs that had begun before a repair and had not ended well before it."""
    begin = int(axis.searchsorted(work.first))
    end = int(axis.searchsorted(work.last))
    return [
        r
        for r in runs
        if r.position <= begin
        and (r.last is None or r.last >= begin - LATE_NIGHTS)
        and r.position <= end
    ]


def _row(
    place: Place,
    work: Work,
    group: Sequence[Work],
    running: list[Run],
    runs: Sequence[Run],
    works: Sequence[Work],
    axis: pd.DatetimeIndex,
    event_ids: Mapping[tuple[str, int], str],
    smallest_l_s: float,
) -> dict[str, Any]:
    one = as_one(group)
    apart = [w for w in works if not any(w is g for g in group)]
    own, found = _measured(place, one, running, runs, [*apart, one], axis)
    told = verdict(found, smallest_l_s=smallest_l_s)
    beside = sorted({w.words() for w in group} - {work.words()})
    repair = f"{work.words()}, together with {listed(beside)}," if beside else work.words()
    row: dict[str, Any] = {
        "place_id": place.place_id,
        "event_id": event_ids.get((place.place_id, own.position), "") if own else "",
        "work": work.words(),
        "mended_id": work.place_id,
        "repaired": work.last,
        "nights_before_count": found.before_count,
        "nights_after_count": found.after_count,
        "nights_more_count": found.more_nights,
        "verdict": told,
        "said": said(found, told=told, repair=repair, place=f"{place.kind} {place.place_id}"),
    }
    for name, value, error in (
        ("before_l_s", found.rise_l_s, found.rise_error_l_s),
        ("drop_l_s", found.drop_l_s, found.drop_error_l_s),
        ("remaining_l_s", found.rest_l_s, found.rest_error_l_s),
    ):
        row |= {name: value, f"{name}_low": value - Z * error, f"{name}_high": value + Z * error}
    return row


def _measured(
    place: Place,
    work: Work,
    running: list[Run],
    runs: Sequence[Run],
    works: Sequence[Work],
    axis: pd.DatetimeIndex,
) -> tuple[Run | None, Repaired]:
    """The flow it eased, if any, and the repair by the nights around it."""
    begin, end = int(axis.searchsorted(work.first)), int(axis.searchsorted(work.last))
    first, upto, stop = _nights(place, work, running, runs, works, axis)
    began = any(r.position == first and not r.growth_l_s_d for r in running)
    full = _full_from(place, first, upto) if began else first
    known = place.flow_l_s.copy()
    known[_worked(works, axis)] = np.nan
    sigma = place.sigma_l_s
    grown = [r for r in running if r.growth_l_s_d > 0]
    line = np.sum([r.flow_l_s for r in grown], axis=0) if grown else np.zeros(len(known))
    # Of a growing flow the level without its line, and the line's height at the repair.
    before, before_count = level(known - line, full, upto, sigma)
    before += float(line[max(upto - 1, 0)])
    after, after_count = level(known, end + 1, stop, sigma)
    error_grown = float(np.sqrt(sum(r.error_l_s**2 for r in grown)))
    error_before = float(np.hypot(sigma / np.sqrt(max(before_count, 1)), error_grown))
    error_after = sigma / float(np.sqrt(max(after_count, 1)))
    rise = rise_error = float("nan")
    if running:
        night = max(upto - 1, 0)
        rise = float(sum(r.flow_l_s[night] for r in running))
        rise_error = float(np.sqrt(sum(r.error_l_s**2 for r in running)))
        if full > first and len(running) == 1:
            # The size of the run is a mean with its first night in it.
            rise, rise_error = (
                before - running[0].base_l_s,
                float(np.hypot(rise_error, error_before)),
            )
    drop = before - after
    own = _eased(running, drop)
    following = _soon(runs, end)
    needed = _needed(sigma, before_count, rise if running else _USUAL_SIGMAS * sigma)
    to_come = end + needed - (len(known) - 1)
    return own, Repaired(
        before_count=before_count,
        after_count=after_count,
        more_nights=max(needed - after_count, 1) if begin and to_come > 0 else 0,
        rise_l_s=rise,
        rise_error_l_s=rise_error,
        drop_l_s=drop,
        drop_error_l_s=float(np.hypot(error_before, error_after)),
        rest_l_s=rise - drop,
        # Before less after, less before less base: the level before counts once in neither.
        rest_error_l_s=float(
            np.sqrt(max(np.nan_to_num(rise_error) ** 2 - error_before**2, 0.0) + error_after**2)
        ),
        flows_count=len(running),
        eased_l_s=_height(own, upto) if own is not None else float("nan"),
        following=None if following is None else axis[following.position],
        following_l_s=float("nan") if following is None else following.size_l_s(),
    )


def _nights(
    place: Place,
    work: Work,
    running: list[Run],
    runs: Sequence[Run],
    works: Sequence[Work],
    axis: pd.DatetimeIndex,
) -> tuple[int, int, int]:
    """First night before, the night after the last one before, and the night after the last one
    after: none of them beyond another repair or change."""
    begin, end = int(axis.searchsorted(work.first)), int(axis.searchsorted(work.last))
    others = [w for w in works if w is not work and w.kind == "repair"]
    earlier = [int(axis.searchsorted(w.last)) + 1 for w in others if w.last < work.first]
    later = [int(axis.searchsorted(w.first)) for w in others if w.first > work.last]
    started = [r.position for r in runs if r.position < begin]
    fell = [c.position for c in place.changes if c.position < begin - LATE_NIGHTS]
    steps = fell if not any(r.growth_l_s_d > 0 for r in running) else []
    first = min(max([begin - BEFORE_NIGHTS, 0, *earlier, *started, *steps]), begin)
    # An end that is dated before its repair leaves the nights between out.
    ended = [r.last + 1 for r in running if r.last is not None and r.last + 1 > first]
    worked = _worked(works, axis)
    again = [
        c.position
        for c in place.changes
        # What begins or ends with a recorded work changes nothing that stays.
        if c.position > end + 1 + LATE_NIGHTS and not worked[c.position - 1 : c.position + 1].any()
    ]
    stop = min([end + 1 + AFTER_NIGHTS, len(place.flow_l_s), *later, *again])
    return first, min([begin, *ended]), stop


def _full_from(place: Place, position: int, begin: int) -> int:
    """First night that a flow ran the whole of: it may have begun within its first night, which is
    left out where a later one is known."""
    later = np.isfinite(place.flow_l_s[position + 1 : begin]).any()
    return position + 1 if later else position


def _worked(works: Sequence[Work], axis: pd.DatetimeIndex) -> npt.NDArray[np.bool_]:
    """Nights on which something else than a repair was going on, and the days of repairs."""
    out = np.zeros(len(axis), dtype=bool)
    for work in works:
        out |= np.asarray((axis >= work.first) & (axis <= work.last))
    return out


def _needed(sigma_l_s: float, before_count: int, rise_l_s: float) -> int:
    """Nights after a repair until half the rise stands out at 95 %, two at least, 28 at most.

    1.96 sigma sqrt(1 / before + 1 / after) must not pass half the rise.
    """
    wanted = (rise_l_s / 2 / Z / max(sigma_l_s, 1e-12)) ** 2 - 1 / max(before_count, 1)
    if wanted <= 0:
        return AFTER_NIGHTS
    return int(np.clip(np.ceil(1 / wanted), FEWEST_AFTER, AFTER_NIGHTS))


def _height(run: Run, upto: int) -> float:
    return float(run.flow_l_s[max(upto - 1, 0)])


def _eased(running: list[Run], drop_l_s: float) -> Run | None:
    """Of the flows that ran, the one whose size the drop is nearest to."""
    if not running:
        return None
    ended = [r for r in running if r.last is not None]
    among = ended or running
    if not np.isfinite(drop_l_s):
        return among[-1]
    return min(among, key=lambda r: abs(float(np.max(r.flow_l_s)) - drop_l_s))


def _soon(runs: Sequence[Run], end: int) -> Run | None:
    later = [r for r in runs if end < r.position <= end + SOON_NIGHTS]
    return min(later, key=lambda r: r.position) if later else None
