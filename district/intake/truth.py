"""What was seeded in a simulated district, for scoring."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from district.errors import Finding, InputError
from district.intake.tabular import read_table
from district.intake.unreadable import UnreadableError
from district.schema.columns import Table, check
from district.schema.truth import TRUTH, TRUTH_NIGHTS


def read_truth(folder: Path) -> tuple[pd.DataFrame, pd.DataFrame]:
    """The tables TRUTH and TRUTH_NIGHTS from `truth.csv` and `truth_nights.csv`.

    Raises `InputError` if one is missing or not as declared.
    """
    return _read(folder, TRUTH), _read(folder, TRUTH_NIGHTS)


def _read(folder: Path, table: Table) -> pd.DataFrame:
    file = f"{table.name}.csv"
    path = folder / file
    try:
        frame = read_table(path) if path.is_file() else None
    except UnreadableError as reason:
        raise InputError([_defect(file, str(reason))]) from reason
    if frame is None:
        raise InputError([_defect(file, "no such file")])
    tidy, wrong = check(table, frame, source=file)
    if wrong:
        raise InputError(wrong)
    flags = {c.name: bool for c in table.columns if c.kind == "flag"}
    return tidy.astype(flags).reset_index(drop=True)


def _defect(file: str, got: str) -> Finding:
    return Finding(
        "error",
        file,
        got=got,
        expected="what was seeded, as 'district simulate' writes it",
        remedy="Score a simulated district",
    )
