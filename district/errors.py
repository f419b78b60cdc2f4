"""What can go wrong, and how it is told.

The tree::

    DistrictError              anything this package raises on purpose; knows its exit code
    ├── InputError             the user's files or settings cannot be used; carries every finding
    ├── StageError             a stage lacks what it needs (say, no inflow meter in any zone)
    │   ├── StoreError         readings kept from an earlier run are damaged or gone
    │   └── UnsettledError     the pressures and flows in the pipes find no balance
    └── OutputError            the result cannot be written where it was asked for

A `Finding` is one thing wrong (or worth knowing) about the input, with its place. Stages return
findings; only when nothing useful can be computed is an `InputError` raised, with all of them.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Literal

Severity = Literal["error", "warning", "note"]
SEVERITIES: tuple[Severity, ...] = ("error", "warning", "note")
_UNSEEN = ("Cc", "Cs", "Zl", "Zp")
"""Categories of signs that move a terminal's cursor or cannot be printed at all."""
_PLACE_LONGEST, _GOT_LONGEST = 160, 400


def visible(text: str) -> str:
    """The text on one line, each sign that cannot be shown as the mark for an unknown one.

    >>> visible("P\\x072\\n3")
    'P\ufffd2\ufffd3'
    """
    if text.isprintable():
        return text
    return "".join("\ufffd" if unicodedata.category(c) in _UNSEEN else c for c in text)


def _cut(text: str, longest: int) -> str:
    seen = visible(text)
    return seen if len(seen) <= longest else f"{seen[: longest - 3]}..."


@dataclass(frozen=True)
class Finding:
    """One defect of the input, where it is, and how to mend it.

    `error` stops the stages that need the thing, `warning` limits a figure, `note` informs.
    Example sentence: ``pipes.geojson, pipe P12, column diameter_mm: got "wide", expected a number
    in mm. Correct the value or leave it empty.``
    """

    severity: Severity
    source: str
    """File the finding is about, as the user knows it (name relative to the district folder)."""
    place: str = ""
    """Row, feature, device or zone, as 'row 12' or 'pipe P12'; empty for the whole file."""
    column: str = ""
    got: str = ""
    expected: str = ""
    remedy: str = ""
    """One imperative sentence, without full stop."""
    count: int = field(default=1, compare=False)
    """How many places it stands for; `place` names the first of them."""

    def sentence(self) -> str:
        """The finding as one line: *file, place, column: got X, expected Y. Do Z.*

        What comes from the user's files is cut where it is endless.
        """
        where = [_cut(self.source, _PLACE_LONGEST)]
        if self.place:
            where.append(_cut(self.place, _PLACE_LONGEST))
        if self.column:
            where.append(f"column {_cut(self.column, _PLACE_LONGEST)}")
        said = [f"got {_cut(self.got, _GOT_LONGEST)}"] if self.got else []
        if self.expected:
            said.append(f"expected {_cut(self.expected, _GOT_LONGEST)}")
        line = f"{', '.join(where)}: {', '.join(said)}."
        return f"{line} {visible(self.remedy).rstrip('.')}." if self.remedy else line


def worst_first(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Errors, then warnings, then notes; within each by source and place; duplicates dropped."""
    unique = dict.fromkeys(findings)
    return tuple(sorted(unique, key=lambda f: (SEVERITIES.index(f.severity), f.source)))


class DistrictError(Exception):
    """Base of every error raised on purpose."""

    exit_code = 2

    def lines(self) -> tuple[str, ...]:
        """What to print, one sentence a line."""
        return (str(self),)


class InputError(DistrictError):
    """The input cannot be used; `findings` says all that is wrong with it."""

    def __init__(self, findings: Iterable[Finding]) -> None:
        self.findings = worst_first(findings)
        super().__init__("\n".join(f.sentence() for f in self.findings))

    def lines(self) -> tuple[str, ...]:
        return tuple(f.sentence() for f in self.findings)


class StageError(DistrictError):
    """A stage lacks what it needs."""


class StoreError(StageError):
    """Readings kept from an earlier run cannot be read."""


class UnsettledError(StageError):
    """Pressures and flows find no balance within the steps allowed; says where they miss most."""


class BusyError(DistrictError):
    """Another run is at work on the same folder."""


class OutputError(DistrictError):
    """The result cannot be written."""
