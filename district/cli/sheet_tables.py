"""The jobs written as sheets, for people and for machines."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pandas as pd
from rich.table import Table
from rich.text import Text

from district.cli.layout import estimate, or_none, print_lines, show, titled
from district.field_job import FieldJob
from district.schema.cautions import SHEET_CAUTIONS
from district.words import EMPTY, brief, plural


def job_table(jobs: Sequence[FieldJob]) -> Table:
    """Each job with what it takes."""
    table = titled(
        "Jobs",
        "Job",
        "Zone",
        "Rise\nL/s",
        "Search\nm",
        "Valves\nto shut",
        "Properties\ndry",
        "Critical\nusers",
        left=2,
    )
    for job in jobs:
        row = next(job.event.itertuples(), None)
        walk_m = 1000 * float(job.sets["set_km"].sum()) if len(job.sets) else None
        table.add_row(
            Text(job.job_id),
            Text(job.zone),
            EMPTY if row is None else estimate(row, "size_l_s"),
            EMPTY if walk_m is None else brief(walk_m),
            f"{(job.valves['action'] == 'shut').sum()}",
            f"{job.areas['properties_count'].sum():.0f}",
            f"{(job.users['kind'] != 'other').sum()}",
        )
    return or_none(table)


def print_sheets(jobs: Sequence[FieldJob], paths: Sequence[Path]) -> None:
    """The whole printed output of `district sheets`."""
    show(job_table(jobs))
    if not jobs:
        print_lines(["Nothing is looked for: no sheet was written."])
        return
    folder = paths[0].parent
    print_lines(
        [
            f"{plural(len(jobs), 'sheet')} and as many forms stand in {folder}. Print each on one "
            "side of A4.",
            "A form that comes back filled in belongs under entries/ in the district's folder, or "
            "where its settings say.",
        ]
    )
    print_lines([f"- {line}" for line in SHEET_CAUTIONS])


_TABLES = (
    "event", "sets", "legs", "points", "set_ups", "leak_segments", "valves", "areas", "users",
    "failures", "cascade", "pressures",
)  # fmt: skip


def sheets_object(jobs: Sequence[FieldJob], paths: Sequence[Path]) -> dict[str, Any]:
    """The same for machines: each table with the job its rows belong to."""
    return {
        "jobs": pd.DataFrame(
            [(j.job_id, j.cell_id, j.zone, j.target) for j in jobs],
            columns=["job_id", "cell_id", "zone", "target"],
        ),
        **{name: _of_all(jobs, name) for name in _TABLES},
        "files": [str(path) for path in paths],
        "cautions": list(SHEET_CAUTIONS),
    }


def _of_all(jobs: Sequence[FieldJob], name: str) -> pd.DataFrame:
    each = [
        pd.DataFrame(getattr(j, name)).drop(columns="geometry", errors="ignore").assign(
            job_id=j.job_id
        )
        for j in jobs
        if len(getattr(j, name))
    ]  # fmt: skip
    return pd.concat(each, ignore_index=True) if each else pd.DataFrame()
