"""Forms that crews filled in, known by their headings; where they lie in a folder."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import PurePosixPath

from district.intake.proposal import ColumnGuess, LayerGuess, LeftOut
from district.intake.survey import TableSample
from district.schema.entry_forms import ENTRY_FORM

_TELLING = frozenset(("record", "job_id", "time", "place_id"))
"""No record and no file of readings has them all."""


def is_form(sample: TableSample) -> bool:
    """Whether a table has the headings of the form that goes out to crews."""
    return {str(c).strip().lower() for c in sample.frame.columns} >= _TELLING


def guess_entries(
    forms: Sequence[TableSample], *, others: Sequence[TableSample]
) -> tuple[tuple[LayerGuess, ...], list[LeftOut]]:
    """Where the forms lie, as one name or pattern, and those it does not reach.

    `others` are the other tables of the folder: a pattern that found them too would be wrong.
    """
    if not forms:
        return (), []
    named = sorted({form.file for form in forms})
    first = PurePosixPath(named[0])
    pattern = f"{first.parent}/*{first.suffix}" if first.parent.name else named[0]
    if any(PurePosixPath(o.file).match(pattern) for o in others):
        pattern = named[0]
    columns = {str(c).strip().lower() for form in forms for c in form.frame.columns}
    own = tuple(
        ColumnGuess(n, n, "sure", "its own name") for n in ENTRY_FORM.names() if n in columns
    )
    left = [
        LeftOut(file, f"a form as {pattern}: put all forms into one folder, with nothing else")
        for file in named
        if not PurePosixPath(file).match(pattern)
    ]
    why = "its headings are those of the form that goes out to crews"
    return (LayerGuess(ENTRY_FORM.name, pattern, "", "sure", why, own),), left
