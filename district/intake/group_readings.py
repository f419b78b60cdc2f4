"""Reading files that are alike, as one kind with one pattern."""

from __future__ import annotations

import re
from glob import escape
from itertools import groupby
from pathlib import Path, PurePosixPath

from district.intake.guess_readings import Layout
from district.intake.proposal import ReadingsGuess
from district.intake.survey import TableSample
from district.intake.unused import unused
from district.schema.inputs import READINGS

_MONTH = re.compile(
    r"(?<![a-z])(?:jan|feb|mar|apr|may|jun|jul|aug|sep|sept|oct|nov|dec|january|february|march|april"
    r"|june|july|august|september|october|november|december|januar|februar|märz|mai|juni|juli"
    r"|oktober|dezember|okt|dez)(?![a-z])",
    re.IGNORECASE,
)
"""Names of months, as in monthly exports."""


def reading_kinds(
    folder: Path, layouts: list[tuple[TableSample, Layout]]
) -> tuple[ReadingsGuess, ...]:
    """Files alike in place, layout, and name but for digits and months are one kind of file."""

    def mark(one: tuple[TableSample, Layout]) -> tuple[str, str]:
        sample, layout = one
        renamed = [(c.ours, c.theirs) for c in layout.columns if c.ours != c.theirs]
        alike = (layout.layout, layout.sureness, layout.timezone, layout.stamp, renamed)
        return _MONTH.sub("#", re.sub(r"\d+", "#", sample.file)), repr(alike)

    kinds = []
    for _, group in groupby(sorted(layouts, key=lambda o: (*mark(o), o[0].file)), key=mark):
        members = list(group)
        alone = [m for m in members if not _all_alike(m[0], members)]
        members = [m for m in members if m not in alone]
        kinds += [_kind(escape(s.file), [(s, layout)], s.sheet()) for s, layout in alone]
        files = list(dict.fromkeys(sample.file for sample, _ in members))
        pattern = _pattern(folder, files) if files else ""
        if pattern:
            kinds.append(_kind(pattern, members))
        else:
            kinds += [_kind(escape(f), [m for m in members if m[0].file == f]) for f in files]
    return tuple(kinds)


def _all_alike(sample: TableSample, members: list[tuple[TableSample, Layout]]) -> bool:
    """Whether all sheets of its file that hold times are among the members."""
    there = {other.sheet() for other, _ in members if other.file == sample.file}
    return there.issuperset(sample.timed)


def _kind(
    pattern: str, members: list[tuple[TableSample, Layout]], sheet: str = ""
) -> ReadingsGuess:
    layout = members[0][1]
    own = READINGS.names() if layout.layout == "long" else ()
    headings = [h for sample, _ in members for h in sample.frame.columns]
    taken = [c for _, one in members for c in one.columns]
    rows = {sample.shape.heading_row for sample, _ in members}
    return ReadingsGuess(
        pattern,
        tuple(dict.fromkeys(sample.file for sample, _ in members)),
        layout.layout,
        layout.sureness,
        layout.why,
        layout.columns,
        layout.timezone,
        layout.timezone_why,
        layout.stamp,
        layout.stamp_why,
        layout.values,
        layout.doubt,
        sheet,
        rows.pop() if len(rows) == 1 else 1,
        unused(headings, taken, own=own),
    )


def _pattern(folder: Path, files: list[str]) -> str:
    """One pattern that finds these files and no other; '' if there is none."""
    if len(files) == 1:
        return escape(files[0])
    place = PurePosixPath(files[0]).parent
    names = [PurePosixPath(f).name for f in files]
    head = _common(names)
    tail = _common([n[::-1] for n in names])[::-1]
    head = head.rstrip("0123456789")
    tail = tail.lstrip("0123456789")
    pattern = escape((place / head).as_posix() if head else place.as_posix() + "/") + "*"
    pattern = pattern.removeprefix("./") + escape(tail)
    found = {p.relative_to(folder).as_posix() for p in folder.glob(pattern) if p.is_file()}
    return pattern if found == set(files) else ""


def _common(names: list[str]) -> str:
    first, last = min(names), max(names)
    count = next((i for i, c in enumerate(first) if last[i : i + 1] != c), len(first))
    return first[:count]
