"""One device's record in one form: intervals or samples, and those of them in a span."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd

from district.errors import Finding
from district.intake.clean import step_h_of
from district.intake.devices import Device
from district.intake.drift import Walk
from district.intake.kind_of import Moves
from district.intake.possible import MOST_SHARE, beyond
from district.intake.spans import Span
from district.intake.tallies import Tally
from district.schema.stored import QUALITIES

OK, GAP, SPIKE, STUCK, RESET, NEGATIVE, IMPOSSIBLE = range(len(QUALITIES))
"""Codes of the qualities, in the order of the schema."""
GAP_STEPS = 1.5
"""Longer than this many usual steps, an interval is a gap."""
Array = np.ndarray[Any, Any]


@dataclass(frozen=True, eq=False)
class Flow:
    """Intervals (or instants: start is end) of one device in a span, in order of time.

    In the span lies the reading that an interval ends with, or by which a sample is.
    """

    start_us: Array
    end_us: Array
    value: Array
    """m³, m of water, or 0/1; NaN where unusable."""
    quality: Array
    expected_count: int
    """Intervals there would be without any missing."""
    missing_count: int
    step_h: float
    steps_count: int
    """Intervals between readings, of which that is the usual."""
    resolution_m3: float = math.nan
    notes: tuple[Finding, ...] = ()
    """What there is to say of it alone; `intake.notes.placed` fills in file and device."""
    tallies: tuple[Tally, ...] = ()
    """What there is to say of it together with the rest of the record."""
    moves: Moves = field(default_factory=lambda: Moves(0, 0, 0))
    walk: Walk | None = None
    days: pd.DataFrame | None = None
    """Table RATE_DAYS, where a rate stands beside."""


@dataclass(frozen=True, eq=False)
class Entries:
    """Intervals or samples of a whole window, one entry each."""

    at_us: Array
    """The reading an entry is of, or ends with."""
    start_us: Array
    end_us: Array
    value: Array
    quality: Array
    length_h: Array
    """Since the reading before; NaN of the first."""
    each: Array
    """How many usual intervals an entry stands for."""


def flow_in(entries: Entries, own: Span, *, misread: int = 0, **more: Any) -> Flow:
    """What lies in the span, with its counts."""
    here = own.of(entries.at_us)
    length, each = entries.length_h[here], entries.each[here]
    length = length[~np.isnan(length)]
    return Flow(
        entries.start_us[here],
        entries.end_us[here],
        entries.value[here],
        entries.quality[here],
        int(each.sum()),
        max(int((each - 1).sum()) - misread, 0),
        step_h_of(length),
        len(length),
        **more,
    )


def each_of(length: Array, usual: Array) -> Array:
    """How many usual intervals each step between readings takes."""
    if len(length) == 0:
        return np.zeros(0, dtype=np.int64)
    return np.maximum(1, np.round(length / usual)).astype(np.int64)


def beyond_tallies(
    device: Device, volume: Array, span: Array, quality: Array, step_m3: float, mine: Array
) -> list[Tally]:
    """Flags in `quality` what cannot have passed, and counts those that are `mine`."""
    sound = quality <= GAP
    over = sound & beyond(volume, span, most_m3_h=device.most_m3_h, step_m3=step_m3)
    if not over.any():
        return []
    few = over.sum() <= MOST_SHARE * sound.sum()
    if few:
        quality[over] = IMPOSSIBLE
    told = over & mine
    if not told.any():
        return []
    fastest = float((np.abs(volume) / span)[told].max())
    what = "beyond" if few else "unit"
    return [Tally(what, int(told.sum()), high=fastest, total=int((sound & mine).sum()))]
