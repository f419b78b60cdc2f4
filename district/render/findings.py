"""Findings gathered for people: like ones together, worst first."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import pandas as pd

from district.errors import Finding, worst_first
from district.schema.outputs import FINDINGS

MOST = 100
"""Places listed under one heading; the table findings.csv has them all."""


@dataclass(frozen=True)
class Group:
    """Findings of one kind in one file."""

    severity: str
    headline: str
    count: int
    sentences: tuple[str, ...]
    """The first `MOST`, one a place; empty where there is only one."""


def gathered(findings: Iterable[Finding]) -> tuple[Group, ...]:
    """Findings of one file, column, expectation and remedy as one group, worst first."""
    groups: dict[tuple[str, ...], list[Finding]] = {}
    for finding in worst_first(findings):
        # What is expected often names the place itself; the remedy is what a reader acts on.
        key = (finding.severity, finding.source, finding.column, finding.remedy)
        groups.setdefault(key, []).append(finding)
    return tuple(_group(found) for found in groups.values())


def as_table(findings: Iterable[Finding]) -> pd.DataFrame:
    """Findings as table FINDINGS, worst first."""
    rows = [{name: getattr(f, name) for name in FINDINGS.names()} for f in worst_first(findings)]
    return pd.DataFrame(rows, columns=list(FINDINGS.names()), dtype=object)


def _group(found: list[Finding]) -> Group:
    first = found[0]
    if len(found) == 1:
        return Group(first.severity, first.sentence(), 1, ())
    where = first.source + (f", column {first.column}" if first.column else "")
    same = all(f.expected == first.expected for f in found)
    # "Expected none" of several things says nothing of what came.
    same = same and first.expected not in ("", "none")
    said = f" expected {first.expected}." if same else " for example:"
    if not same:
        said += f" {first.sentence()}"
    elif first.remedy:
        said += f" {first.remedy.rstrip('.')}."
    return Group(
        first.severity,
        f"{where}: {len(found)} times,{said}",
        len(found),
        tuple(f.sentence() for f in found[:MOST]),
    )
