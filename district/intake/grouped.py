"""The same defect many times over, told once, though it be found piece by piece."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from district.errors import Finding, Severity
from district.words import SHOWN, natural_key, places

LIMIT = 3
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
        many = len(same) > 1 and sum(f.count for f in same) > LIMIT
        told += [_one(same)] if many else same
    return tuple(told)


def _one(same: list[Finding]) -> Finding:
    ordered = sorted(same, key=lambda f: natural_key(f.place))
    word = same[0].place.partition(" ")[0]
    names = [f.place.partition(" ")[2] for f in ordered]
    unnamed = sum(f.count - 1 for f in same)
    return replace(
        same[0],
        place=places(word, names, beyond=unnamed),
        got=_several([f.got for f in ordered]),
        count=sum(f.count for f in same),
    )


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
    """A finding for each of a file's rows, `rows` in order, and what is there.

    A file may be wrong from end to end: of many rows only the first are named, and those that
    first show another value, and the last of these stands for the rest by its `count`. `grouped`
    puts such findings together, also those of a file read in pieces.
    """
    first = {value: i for i, value in reversed(list(enumerate(got)))}
    named = sorted({*range(min(LIMIT, len(rows))), *sorted(first.values())[: SHOWN + 1]})
    return [
        Finding(
            severity,
            source,
            f"row {rows[i]}",
            column,
            got[i],
            expected,
            remedy,
            count=1 if i != named[-1] else 1 + len(rows) - len(named),
        )
        for i in named
    ]
