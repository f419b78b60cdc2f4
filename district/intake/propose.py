"""A folder of files nobody has described yet: what each most likely is."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path, PurePosixPath

from district.errors import Finding, InputError
from district.intake.assign import Ids, assign_layers, devices_of, ids_of, lacking, with_references
from district.intake.group_readings import reading_kinds
from district.intake.guess import how_like, sureness_of
from district.intake.guess_columns import guess_columns
from district.intake.guess_entries import guess_entries, is_form
from district.intake.guess_readings import Layout, guess_layout
from district.intake.proposal import LayerGuess, LeftOut, Proposal, ReadingsGuess
from district.intake.reading_ids import reading_words, speaks_of_readings
from district.intake.survey import TableSample, survey
from district.intake.unused import unused
from district.schema.columns import Table
from district.schema.inputs import RECORDS
from district.words import listed

_ORDER = {t.name: n for n, t in enumerate(RECORDS)}
_TRUTH = ("truth.csv", "truth_nights.csv")
"""What a simulated district hides: of no use here, and not to be looked at."""
_REASONS = 3
_REFERS = {"pipe_id": "pipes", "valve_id": "valves"}
"""Column of a record -> layer whose ids it holds."""


def propose(folder: Path) -> Proposal:
    """What the folder's files, and those of its subfolders, most likely hold.

    Looks at first rows only and writes nothing. Each layer and record table is given one file,
    each file one table. Raises `InputError` when the folder is none, or holds nothing of use.
    """
    if not folder.is_dir():
        got = "a file" if folder.exists() else "no such folder"
        raise InputError([_useless(folder, got, "Check the path")])
    samples, tables, left = survey(folder)
    tables = [t for t in tables if t.file not in _TRUTH]
    read_ids = frozenset().union(*(reading_words(t.frame, t.file, t.sheet()) for t in tables))
    layers, not_taken = assign_layers(samples, read_ids)
    ids = {guess.table: ids_of(guess, samples) for guess in layers}
    layers = tuple(with_references(g, samples, ids, read_ids) for g in layers)
    readings, records, no_tables = _tables(folder, tables, devices_of(layers, samples), ids)
    left_out = (*left, *not_taken, *no_tables)
    if not (layers or readings or records):
        raise InputError([_useless(folder, _seen(left_out), "Put the layers and readings there")])
    return Proposal(folder, layers, records, readings, left_out)


def _seen(left_out: tuple[LeftOut, ...]) -> str:
    if not left_out:
        return "no file of use"
    count = f"{len(left_out)} file{'s' if len(left_out) > 1 else ''}, none of use"
    reasons = "; ".join(f"{one.file}: {one.why}" for one in left_out[:_REASONS])
    return f"{count} ({reasons}{' ...' if len(left_out) > _REASONS else ''})"


def _useless(folder: Path, got: str, remedy: str) -> Finding:
    return Finding(
        "error",
        str(folder),
        got=got,
        expected="a folder with map layers (GeoPackage, shapefile, GeoJSON ...) or files of "
        "readings (CSV, XLSX, Parquet)",
        remedy=remedy,
    )


def _tables(
    folder: Path,
    tables: list[TableSample],
    devices: Mapping[str, str],
    ids: Ids,
) -> tuple[tuple[ReadingsGuess, ...], tuple[LayerGuess, ...], list[LeftOut]]:
    layouts: list[tuple[TableSample, Layout]] = []
    forms = [t for t in tables if is_form(t)]
    records: dict[str, tuple[float, LayerGuess]] = {}
    left: list[LeftOut] = []
    for sample in (t for t in tables if t not in forms):
        layout = guess_layout(
            sample.frame,
            file=sample.file,
            devices=devices,
            sheet=sample.sheet(),
            units=sample.shape.units,
        )
        if isinstance(layout, Layout) and layout.sureness != "unsure":
            layouts.append((sample, layout))
            continue
        score, record = max((_record(t, sample, ids) for t in RECORDS), key=lambda r: r[0])
        if record.sureness != "unsure" and not record.lacking:
            before = records.get(record.table)
            best, other = (score, record), before
            if before is not None and before[0] >= score:
                best, other = before, best
            records[record.table] = best
            if other is not None:
                left.append(LeftOut(other[1].place(), f"it looks like {record.table} too"))
        elif isinstance(layout, Layout) and speaks_of_readings(sample.file):
            layouts.append((sample, layout))
        else:
            why = layout if isinstance(layout, str) else layout.why
            left.append(LeftOut(sample.place(), _nearly(record) or why))
    chosen = sorted((r for _, r in records.values()), key=lambda g: _ORDER[g.table])
    entries, not_read = guess_entries(forms, others=[t for t in tables if t not in forms])
    return reading_kinds(folder, layouts), (*chosen, *entries), [*left, *not_read]


def _nearly(record: LayerGuess) -> str:
    """Why a file named like a record is left out all the same; '' of any other file."""
    if not record.why.startswith("its name says") or speaks_of_readings(record.file):
        return ""
    short = f"it lacks {listed(record.lacking)}" if record.lacking else "too little else fits"
    there = f"[records.{record.table}.columns]"
    return f"{record.why}; not taken for {record.table}, as {short}: name its columns under {there}"


def _record(table: Table, sample: TableSample, ids: Ids) -> tuple[float, LayerGuess]:
    inner = PurePosixPath(sample.file)
    around = " ".join(inner.parent.parts)
    like = how_like(table, sample.frame, name=inner.stem, around=around)
    known = {c: ids.get(t, frozenset()) for c, t in _REFERS.items() if c in table.names()}
    columns = guess_columns(table, sample.frame, ids=known)
    sureness = sureness_of((like.score, 0.0))
    missing = lacking(table, columns)
    guess = LayerGuess(
        table.name,
        sample.file,
        "",
        sureness,
        like.why,
        columns,
        missing,
        sheet=sample.sheet(),
        unused=unused(sample.frame.columns, columns, own=table.names()),
    )
    return like.score, guess
