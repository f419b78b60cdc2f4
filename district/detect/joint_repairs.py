"""Repairs that came so close upon one another that the nights tell only what all of them did."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from district.detect.recorded import Work

TOGETHER_NIGHTS = 3
"""With no more nights between them, repairs of one place are told together: so few tell nothing of
the first alone. Assumption."""


def together(work: Work, at_place: Sequence[Work]) -> tuple[Work, ...]:
    """The repairs of a place that are told with this one, itself among them, in order."""
    repairs = sorted((w for w in at_place if w.kind == "repair"), key=lambda w: (w.first, w.last))
    groups: list[list[Work]] = []
    for one in repairs:
        ended = max((w.last for w in groups[-1]), default=None) if groups else None
        apart = None if ended is None else (one.first - ended).days
        if apart is None or apart > TOGETHER_NIGHTS:
            groups.append([])
        groups[-1].append(one)
    return tuple(next(group for group in groups if any(w is work for w in group)))


def as_one(group: Sequence[Work]) -> Work:
    """Repairs told together as one that lasts from the first to the last."""
    last = max(w.last for w in group)
    return group[0] if len(group) == 1 else replace(group[0], last=last)
