"""What cleaning a part of the readings gives: the readings, and what there is to tell of them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass
from typing import Any

import pandas as pd

from district.errors import Finding
from district.intake.tallies import Tally, from_list


@dataclass(frozen=True)
class Told:
    """What one part of the readings tells; `together.findings_of` makes whole sentences of it."""

    findings: tuple[Finding, ...] = ()
    """Of rows and files."""
    notes: tuple[tuple[str, Finding], ...] = ()
    """Device and finding, without its file and place."""
    tallies: tuple[tuple[str, Tally], ...] = ()
    """Device and tally."""
    disorder: tuple[tuple[str, str, int, int], ...] = ()
    """File, device, and how often time runs back in it, and on."""

    def as_json(self) -> dict[str, Any]:
        """What `told_of` makes this of again, of lists, texts and numbers alone."""
        return {
            "findings": [asdict(f) for f in self.findings],
            "notes": [[i, asdict(f)] for i, f in self.notes],
            "tallies": [[i, t.as_list()] for i, t in self.tallies],
            "disorder": [list(d) for d in self.disorder],
        }


def told_of(said: Any) -> Told:
    """What `as_json` took apart; other things raise `ValueError`, `TypeError` or `KeyError`."""
    return Told(
        tuple(Finding(**f) for f in said["findings"]),
        tuple((str(i), Finding(**f)) for i, f in said["notes"]),
        tuple((str(i), from_list(t)) for i, t in said["tallies"]),
        tuple((str(f), str(i), int(b), int(o)) for f, i, b, o in said["disorder"]),
    )


def joined(parts: Iterable[Told]) -> Told:
    """What several parts tell, in their order."""
    every = list(parts)
    return Told(
        tuple(f for t in every for f in t.findings),
        tuple(n for t in every for n in t.notes),
        tuple(n for t in every for n in t.tallies),
        tuple(d for t in every for d in t.disorder),
    )


@dataclass(frozen=True, eq=False)
class Cleaned:
    """Readings of some devices in a part of their record: tables of `schema`, by their key."""

    intervals: pd.DataFrame
    samples: pd.DataFrame
    spells: pd.DataFrame
    days: pd.DataFrame
    told: Told
