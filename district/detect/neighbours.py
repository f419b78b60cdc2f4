"""Which zones share a meter or a valve, and changes in them that cancel."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import pandas as pd

from district.detect.change import Change, level
from district.detect.places import Place
from district.detect.runs import Run
from district.network import Network
from district.words import natural_key

NEAR_NIGHTS = 3
"""Opposite changes this many nights apart may be one."""
_TOUCH_M = 5.0  # outlines are drawn by hand
_WINDOW = 14  # nights before and after that a touching zone is judged by
_UNLIKE = 0.1  # water that moved may differ by this share beside errors
_OWN_CHANGE = 0.1  # chance that a zone changes of its own within those nights
_OWN_DRIFT = 0.3  # of its noise: by how much two weeks differ where nothing changed
_SAME_DATE = 1.5  # log factor of a fall that the change test dates to the same nights
_ALIKE = 0.25  # sizes may differ by this share beside their errors


UNSEEN = "a valve or pipe the map does not show"


def between(network: Network) -> dict[frozenset[str], tuple[str, ...]]:
    """Pairs of cells that touch, and what lies between them in words.

    Zone meters first ('meter M4'), then valves ('valve V12'); where only the outlines of the
    zones touch, 'a valve or pipe the map does not show'.
    """
    touching: dict[frozenset[str], tuple[str, ...]] = {}
    for kind, cut, cells in sorted(_cuts(network), key=lambda c: (c[0], natural_key(c[1]))):
        for pair in combinations(sorted(cells), 2):
            two, what = frozenset(pair), f"{kind} {cut}"
            if what not in touching.get(two, ()):
                touching[two] = (*touching.get(two, ()), what)
    zones = network.zones[network.zones.index.isin(network.cells.index)]
    if len(zones) > 1:
        near, far = zones.geometry.sindex.query(zones.geometry, "dwithin", distance=_TOUCH_M)
        for one, other in zip(near, far, strict=True):
            if one < other:
                two = frozenset({str(zones.index[one]), str(zones.index[other])})
                touching.setdefault(two, (UNSEEN,))
    return touching


def cells_at(network: Network) -> dict[str, frozenset[str]]:
    """Cells that each meter or valve which separates cells touches, by its id."""
    return {cut: cells for _, cut, cells in _cuts(network)}


def _cuts(network: Network) -> list[tuple[str, str, frozenset[str]]]:
    found = []
    for row in network.boundaries.itertuples():
        cells = frozenset({row.upstream_cell_id, row.downstream_cell_id} - {""})
        found.append(("meter", str(row.meter_id), cells))
    named = network.nodes["cut"].to_numpy()
    ends = pd.concat(
        [
            pd.DataFrame({"at": network.pipes[end].to_numpy(), "cell": network.pipes["cell_id"]})
            for end in ("start_position", "end_position")
        ]
    )
    ends["cut"] = named[ends["at"].to_numpy(dtype=int)] if len(ends) else []
    ends = ends[(ends["cut"] != "") & (ends["cell"] != "")]
    meters = set(network.boundaries["meter_id"])
    for cut, cells in ends.groupby("cut")["cell"]:
        kind = "meter" if cut in meters or cut in network.meters.index else "valve"
        found.append((kind, str(cut), frozenset(cells)))
    return found


def cancels(rise: Change, fall: Change) -> bool:
    """Whether a rise and a fall in two zones are of like size and date."""
    close = abs(rise.position - fall.position) <= NEAR_NIGHTS
    overlap = rise.low <= fall.high and fall.low <= rise.high
    error = 1.96 * float(np.hypot(rise.error_l_s, fall.error_l_s))
    like = max(_ALIKE * max(rise.size_l_s, -fall.size_l_s), error)
    # Errors as large as the changes themselves prove nothing.
    clear = error < 0.6 * max(rise.size_l_s, -fall.size_l_s)
    return (close or overlap) and clear and abs(rise.size_l_s + fall.size_l_s) <= like


def partners(
    found: Mapping[str, Sequence[Change]], touching: Iterable[frozenset[str]]
) -> dict[tuple[str, int], tuple[str, Change]]:
    """Rises that a fall in a touching cell cancels: (cell, position) -> (other cell, its fall).

    Positions must count from one common night. Each fall answers for one rise at most, the
    best-matching first.
    """
    candidates = [
        (abs(rise.size_l_s + fall.size_l_s), cell, rise, other, fall)
        for pair in touching
        for cell, other in (sorted(pair), sorted(pair, reverse=True))
        for rise in found.get(cell, ())
        if rise.size_l_s > 0
        for fall in found.get(other, ())
        if fall.size_l_s < 0 and cancels(rise, fall)
    ]
    taken: set[tuple[str, int]] = set()
    done: dict[tuple[str, int], tuple[str, Change]] = {}
    for _, cell, rise, other, fall in sorted(candidates, key=lambda c: (c[0], c[1], c[3])):
        if (cell, rise.position) in done or (other, fall.position) in taken:
            continue
        taken.add((other, fall.position))
        done[cell, rise.position] = (other, fall)
    return done


def going_back(cancelled: Mapping[tuple[str, int], tuple[str, Change]]) -> set[tuple[str, int]]:
    """Rises that only undo an earlier fall which answered for the other zone's rise."""
    undone = set()
    for (cell, position), (other, fall) in cancelled.items():
        for (first_cell, begun), (second, drop) in cancelled.items():
            same_two = first_cell == other and second == cell
            if same_two and begun < fall.position and drop.position < position:
                undone.add((cell, position))
    return undone


@dataclass(frozen=True)
class Opposite:
    """What a touching zone did around the start of a rise."""

    cell_id: str
    between: tuple[str, ...]
    change_l_s: float
    log: float
    """Log likelihood ratio: that it fell by what the other rose, against that it did not."""

    def by_meter(self) -> bool:
        """Whether a meter lies between."""
        return any(b.startswith("meter ") for b in self.between)

    def only_meters(self) -> bool:
        """Whether the map shows nothing else between."""
        return all(b.startswith("meter ") for b in self.between)


def opposites(
    cell_id: str,
    run: Run,
    *,
    places: Mapping[str, Place],
    touching: Mapping[str, Sequence[tuple[str, tuple[str, ...]]]],
    partner: str = "",
    by_hour: Mapping[str, float] | None = None,
) -> tuple[Opposite, ...]:
    """How each touching zone's night flow changed with a rise of `cell_id`.

    Parameters: `touching` by cell the others that touch it, and what lies between; `partner` the
    zone that a fall of like size and date was found in, `by_hour` what the hours of the others add
    to the log ratio. The means of two weeks before and after
    are compared. If water only moved, both changes sum to nothing within errors and a tenth of
    the rise; if not, the other zone did nothing, or (one time in ten) something of its own.
    """
    own = places[cell_id]
    size, error = _moved(own, run)
    found = []
    for other, what in touching.get(cell_id, ()):
        place = places.get(other)
        if place is None or not np.isfinite(size):
            continue
        change, other_error = _moved(place, run)
        if not np.isfinite(change):
            continue
        free = float(np.hypot(other_error, _OWN_DRIFT * place.sigma_l_s))
        both = float(np.hypot(np.hypot(error, free), _UNLIKE * size))
        moved = _normal(size + change, both)
        still = (1 - _OWN_CHANGE) * _normal(change, free)
        still += _OWN_CHANGE * _normal(change, float(np.hypot(free, 2 * size)))
        log = float(np.clip(np.log(max(moved, 1e-30) / max(still, 1e-30)), -8.0, 8.0))
        log += _SAME_DATE if other == partner else 0.0
        log += (by_hour or {}).get(other, 0.0)
        found.append(Opposite(other, what, change, log))
    return tuple(found)


def _moved(place: Place, run: Run) -> tuple[float, float]:
    """Change of a place's mean night across the start of a run, and its standard error."""
    last = len(place.flow_l_s) - 1 if run.last is None else run.last
    after = max(run.high, last - _WINDOW + 1) if run.growth_l_s_d > 0 else run.high
    # Other changes of the place, as a repair the week before, are no part of this one.
    begin = max((c.high for c in place.changes if c.high < run.low), default=0)
    end = min((c.low for c in place.changes if c.low > after), default=last + 1)
    before_l_s, before = level(
        place.flow_l_s, max(begin, run.low - _WINDOW), run.low, place.sigma_l_s
    )
    after_l_s, count = level(
        place.flow_l_s, after, min(after + _WINDOW, last + 1, end), place.sigma_l_s
    )
    if not before or not count:
        return float("nan"), float("nan")
    return after_l_s - before_l_s, place.sigma_l_s * float(np.sqrt(1 / before + 1 / count))


def _normal(off_l_s: float, error_l_s: float) -> float:
    return float(np.exp(-0.5 * (off_l_s / error_l_s) ** 2) / error_l_s)
