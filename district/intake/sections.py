"""Sections of `district.toml` for what was guessed; what is unsure is off."""

from __future__ import annotations

from collections.abc import Iterable

from district.intake.proposal import ColumnGuess, LayerGuess, ReadingsGuess
from district.intake.settings_lines import off, remark, toml_key, toml_value, unused_lines
from district.schema.columns import Table
from district.schema.entry_forms import ENTRY_FORM
from district.schema.inputs import LAYERS, RECORDS

_TABLES: dict[str, Table] = {t.name: t for t in (*LAYERS, *RECORDS, ENTRY_FORM)}
_LAYERS = {t.name for t in LAYERS}
_CODES_SHOWN = 40


def layer_section(guess: LayerGuess) -> list[str]:
    """The lines of one layer or record table."""
    section = f"{'layers' if guess.table in _LAYERS else 'records'}.{guess.table}"
    table = _TABLES[guess.table]
    lines = [
        f"[{section}]{remark(f'{guess.sureness}: {guess.why}')}",
        f"file = {toml_value(guess.file)}",
    ]
    if guess.layer:
        lines.append(f"layer = {toml_value(guess.layer)}")
    if not guess.placed:
        lines.append('#crs = ""  # the file states none; fill in yours, such as "EPSG:27700"')
    if guess.sheet:
        lines.append(f"sheet = {toml_value(guess.sheet)}")
    if guess.rivals:
        others = ", ".join(guess.rivals)
        lines.append(f"# Looks like {table.name} too: {others}. One file is used: join them first.")
    own = [c for c in guess.columns if c.theirs.lower() == c.ours]
    renamed = [c for c in guess.columns if c not in own]
    if own:
        lines.append(f"# By their own names: {', '.join(c.ours for c in own)}")
    lines += [f"# {c.ours}: {c.remark}" for c in own if c.remark]
    lines += unused_lines(guess.unused)
    if renamed or guess.lacking:
        lines += ["", f"[{section}.columns]", *_columns(renamed)]
        lines += [
            f'#{name} = ""  # needed, and no column looks like it: {table[name].expectation()}'
            for name in guess.lacking
        ]
    units = [c for c in guess.columns if c.unit]
    if units:
        lines += ["", f"[{section}.units]"]
        for c in units:
            line = f"{toml_key(c.ours)} = {toml_value(c.unit)}{remark(f'{c.sureness}: {c.why}')}"
            lines += off([line]) if c.sureness == "unsure" else [line]
    for c in guess.columns:
        lines += _codes(section, table, c)
    return off(lines) if guess.sureness == "unsure" else lines


def _codes(section: str, table: Table, column: ColumnGuess) -> list[str]:
    """A mapping to fill in, off, of the texts in a column of choices that mean none of them."""
    if not column.unread:
        return []
    what = f"not understood; say what each is: {table[column.ours].expectation()}"
    lines = [f"[{section}.values.{toml_key(column.ours)}]{remark(what)}"]
    lines += [f'{toml_value(text)} = ""' for text in column.unread[:_CODES_SHOWN]]
    more = len(column.unread) - _CODES_SHOWN
    return ["", *off(lines), *([f"# and {more} more"] if more > 0 else [])]


def no_layer(table: Table, *, needed: bool) -> list[str]:
    """The lines, off, of a table for which no file was found."""
    section = "layers" if table.name in _LAYERS else "records"
    why = "needed, and no file looks like it" if needed else "no file looks like it"
    head = f"[{section}.{table.name}]{remark(f'{why}: {table.meaning}')}"
    return off([head, 'file = ""'])


def readings_section(kind: ReadingsGuess) -> list[str]:
    """The lines of one kind of reading file."""
    count = f"{len(kind.files)} files; " if len(kind.files) > 1 else ""
    lines = [
        f"[[readings]]{remark(f'{kind.sureness}: {count}{kind.why}')}",
        f"files = {toml_value(kind.pattern)}",
        *([f"sheet = {toml_value(kind.sheet)}"] if kind.sheet else []),
        f"layout = {toml_value(kind.layout)}",
    ]
    if kind.heading_row > 1:
        lines.append(f"# The heading is in row {kind.heading_row}; what is above it is left aside.")
    if kind.values:
        lines.append(remark(kind.values).strip())
    lines += unused_lines(kind.unused)
    lines += _clock(kind)
    if kind.stamp:
        lines.append(f"stamp = {toml_value(kind.stamp)}{remark(kind.stamp_why)}")
    else:
        lines.append(
            '#stamp = "end"  # which end of its interval a rate or pulse count is stamped with; '
            "nothing in the file tells it"
        )
    renamed = [c for c in kind.columns if c.theirs != c.ours]
    if renamed:
        lines += ["[readings.columns]", *_columns(renamed)]
    return off(lines) if kind.sureness == "unsure" else lines


def no_readings() -> list[str]:
    """The lines, off, where no reading file was found."""
    head = f"[[readings]]{remark('no reading file was found')}"
    return off([head, 'files = "readings/*"', 'layout = "long"', 'timezone = ""', 'stamp = "end"'])


def _clock(kind: ReadingsGuess) -> list[str]:
    if kind.timezone == "own":
        return [f"# {kind.timezone_why}"]
    if kind.timezone:
        return [f"timezone = {toml_value(kind.timezone)}{remark(kind.timezone_why)}"]
    return ['#timezone = ""  # fill in if the logger keeps another clock than the district\'s']


def _columns(columns: Iterable[ColumnGuess]) -> list[str]:
    lines = []
    for c in columns:
        why = f"{c.sureness}: {c.why}" + (f"; but {c.remark}" if c.remark else "")
        line = f"{toml_key(c.ours)} = {toml_value(c.theirs)}{remark(why)}"
        lines += off([line]) if c.sureness == "unsure" else [line]
    return lines
