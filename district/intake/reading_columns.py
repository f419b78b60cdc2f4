"""Which columns of a reading file hold what, by the settings or by their headings."""

from __future__ import annotations

import pandas as pd

from district.errors import Finding
from district.intake.beside import OTHER_TIMES
from district.intake.headings import shown
from district.schema.inputs import READINGS
from district.settings import FILE
from district.settings import Readings as Kind


def named_columns(
    frame: pd.DataFrame, kind: Kind, wanted: tuple[str, ...], file: str, findings: list[Finding]
) -> dict[str, str]:
    """Our name -> the file's heading, by the user's columns or any capitals.

    `wanted` are our names. A column the settings name but the file lacks is an error, and so is
    one of a long file that is none of ours.
    """
    present = list(frame.columns)
    names: dict[str, str] = {}
    for ours, theirs in kind.columns.items():
        if kind.layout == "long" and ours not in wanted:
            findings.append(
                Finding(
                    "error",
                    FILE,
                    f"readings.columns of {kind.files}",
                    got=f'"{ours}"',
                    expected=f"one of {', '.join(c for c in wanted if c not in OTHER_TIMES)}",
                    remedy="Correct the name",
                )
            )
        elif theirs in present:
            names[ours] = theirs
        else:
            findings.append(
                Finding(
                    "error",
                    file,
                    column=theirs,
                    got=lacking(frame),
                    expected=f"the column named as {ours} in {FILE}",
                    remedy="Correct it in columns under [[readings]]",
                )
            )
    lower = {c.lower(): c for c in reversed(present) if c not in names.values()}
    for ours in wanted:
        if ours not in kind.columns and ours in lower:
            names[ours] = lower[ours]
    return names


def no_column(column: str, frame: pd.DataFrame, file: str) -> Finding:
    """What to say of a file that lacks one of our columns."""
    return Finding(
        "error",
        file,
        column=column,
        got=lacking(frame),
        expected=f"{READINGS[column].expectation()}: {READINGS[column].meaning}",
        remedy=f"Add the column, or name yours in columns under [[readings]] in {FILE}",
    )


def lacking(frame: pd.DataFrame) -> str:
    """That there is no such column, and which there are instead."""
    return f"no such column (the file has {', '.join(map(shown, frame.columns[:8])) or 'none'})"
