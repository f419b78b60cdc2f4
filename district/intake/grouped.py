"""The same defect many times over, told once."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from district.errors import Finding, Severity
from district.words import SHOWN, places

LIMIT = 5
"""A defect repeated more often than this in one file becomes one finding."""


def grouped(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Findings alike but for their place and value, more than `LIMIT` of them, made one.

    The one names the first places and how many more there are. Order of first appearance stays.
    """
    alike: dict[tuple[str, ...], list[Finding]] = {}
    for f in findings:
        word = f.place.partition(" ")[0]
        key = (f.severity, f.source, f.column, f.expected, f.remedy, word)
        alike.setdefault(key, []).append(f)
    told: list[Finding] = []
    for same in alike.values():
        told += [_one(same)] if len(same) > LIMIT else same
    return tuple(told)


def _one(same: list[Finding]) -> Finding:
    word = same[0].place.partition(" ")[0]
    place = places(word, [f.place.partition(" ")[2] for f in same])
    return replace(same[0], place=place, got=_several([f.got for f in same]))


def _several(got: Sequence[str]) -> str:
    distinct = list(dict.fromkeys(got))
    return ", ".join(distinct[:SHOWN]) + (" and others" if len(distinct) > SHOWN else "")


def by_row(
    severity: Severity,
    source: str,
    *,
    column: str,
    rows: Sequence[int],
    got: Sequence[str],
    expected: str,
    remedy: str,
) -> list[Finding]:
    """Findings of a file's rows and what is there, as one where there are more than `LIMIT`.

    Does not make a finding a row first: a file may be wrong from end to end.
    """
    if len(rows) > LIMIT:
        place = places("row", rows)
        return [Finding(severity, source, place, column, _several(got), expected, remedy)]
    return [
        Finding(severity, source, f"row {row}", column, value, expected, remedy)
        for row, value in zip(rows, got, strict=True)
    ]
