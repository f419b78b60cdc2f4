"""CSV, Parquet and XLSX files as a table of what the user wrote, and texts as numbers."""

from __future__ import annotations

import re
import warnings
from collections.abc import Callable, Iterator
from itertools import count, islice
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pyarrow.parquet as pq

from district.intake.footers import without_footer
from district.intake.table_shape import Shape
from district.intake.tables_in import tables_in
from district.intake.unreadable import as_unreadable

SUFFIXES = (".csv", ".txt", ".tsv", ".parquet", ".xlsx")
_BEYOND = 1e15
"""No meter counts this far; squares and sums of such values would lose their meaning."""
_GROUPED = re.compile(r"[\s'\u00a0\u202f](?=\d{3})")
_BY_COMMAS = r"[+-]?[1-9]\d{0,2}(?:,\d{3})+"
_BY_POINTS = r"[+-]?[1-9]\d{0,2}(?:\.\d{3})+"
_POINT_DECIMALS = re.compile(r"\.(?!\d{3}(?!\d))")
"""A point that groups no digits."""
_ENOUGH = 3
"""Numbers without a mark that must stand beside those with one."""
_FIRST = 1000
CHUNK_ROWS = 1_000_000
_PART_CELLS = 6_000_000
"""What is held at once of a file with very many columns."""


def read_table(path: Path, *, limit: int | None = None, sheet: str = "") -> pd.DataFrame:
    """The file's first table, values as written, indexed by row number as a spreadsheet shows it.

    With `limit`, no more than its first so many rows. Texts of a CSV stay texts; XLSX and Parquet
    keep their numbers and times. Separator, encoding (UTF-8, UTF-16, Windows), byte order mark
    and the row of the heading are found out; what stands above the heading, units below it and
    totals at the end are left aside. `sheet` names the sheet of a workbook; else it is the first
    with a table. Raises `UnreadableError` for a broken or foreign file, one without any heading,
    and a workbook without that sheet.
    """
    (shape, *_) = tables_in(path, sheet=sheet, whole=limit is None).shapes
    return read_shape(path, shape, limit=limit)


def read_shape(path: Path, shape: Shape, *, limit: int | None = None) -> pd.DataFrame:
    """The table of that shape; see `read_table`."""
    return next(_frames(path, shape, rows=None, limit=limit))


def read_chunks(path: Path, *, rows: int = CHUNK_ROWS) -> Iterator[pd.DataFrame]:
    """The frames that together are the file's tables, no more than `rows` rows each.

    CSV and Parquet files are never held in memory whole; of XLSX each sheet comes at once.
    There is at least one frame, and a file of few rows has only one. Raises as `read_table`.
    """
    for shape in tables_in(path).shapes:
        yield from read_parts(path, shape, rows=rows)


def read_parts(path: Path, shape: Shape, *, rows: int = CHUNK_ROWS) -> Iterator[pd.DataFrame]:
    """The frames of one table, of which `tables_in` found the shape; see `read_chunks`."""
    return _frames(path, shape, rows=part_rows(shape, rows))


def part_rows(shape: Shape, rows: int) -> int:
    """How many rows are read at once: fewer than `rows` where there are many columns."""
    return max(1, min(rows, _PART_CELLS // shape.width))


def _frames(
    path: Path, shape: Shape, *, rows: int | None, limit: int | None = None
) -> Iterator[pd.DataFrame]:
    start = shape.heading_row + 1
    held: pd.DataFrame | None = None
    with as_unreadable(path):
        for raw in _raw(path, shape, rows, limit):
            frame = _tidy(raw, start)
            start += len(raw)
            if held is not None:
                yield held
            held = frame.loc[frame.index >= shape.data_row]
    if held is not None:
        # Only the last part can end in totals.
        yield without_footer(held) if shape.times and limit is None else held


def _raw(path: Path, shape: Shape, rows: int | None, limit: int | None) -> Iterator[pd.DataFrame]:
    more = shape.data_row - shape.heading_row - 1
    match path.suffix.lower():
        case ".parquet":
            if rows is None and limit is None:
                yield pd.read_parquet(path)
            else:
                batches = _batches(path, rows or limit or CHUNK_ROWS)
                yield from islice(batches, None if limit is None else 1)
        case ".xlsx":
            yield pd.read_excel(
                path,
                sheet_name=shape.sheet,
                header=shape.heading_row - 1,
                dtype=object,
                engine="openpyxl",
                nrows=None if limit is None else limit + more,
            )
        case _:
            yield from _csv_frames(path, shape, rows, None if limit is None else limit + more)


def _tidy(frame: pd.DataFrame, start: int) -> pd.DataFrame:
    if not isinstance(frame.index, pd.RangeIndex):
        frame = frame.reset_index()
    frame.columns = _told_apart([str(c).strip() for c in frame.columns])
    nested = [n for n, (_, column) in enumerate(frame.items()) if _is_nested(column)]
    for n in nested:
        frame.isetitem(n, frame.iloc[:, n].map(_as_text, na_action="ignore"))
    frame.index = pd.RangeIndex(start, len(frame) + start)
    blank = [c.startswith("Unnamed: ") for c in frame.columns]
    if any(blank):
        frame = frame.loc[:, ~(np.array(blank) & frame.isna().all().to_numpy())]
    return frame.dropna(how="all")


def _is_nested(column: pd.Series[Any]) -> bool:
    """Whether a column of Parquet holds lists, records or bytes: no values, to be told as texts."""
    if column.dtype != object or not column.notna().any():
        return False
    return isinstance(column[column.first_valid_index()], (list, dict, np.ndarray, bytes))


def _as_text(value: Any) -> str:
    return value.decode("utf-8", "replace") if isinstance(value, bytes) else str(value)


def _told_apart(names: list[str]) -> list[str]:
    """The names, a second one alike with a number behind it: 'M1' and 'M1 ' are M1 and M1.1."""
    told: dict[str, None] = {}
    for name in names:
        numbered = (f"{name}.{n}" for n in count(1))
        told[name if name not in told else next(n for n in numbered if n not in told)] = None
    return list(told)


def _batches(path: Path, rows: int) -> Iterator[pd.DataFrame]:
    with pq.ParquetFile(path) as file:
        batch = None
        for batch in file.iter_batches(batch_size=rows):
            yield batch.to_pandas()
        if batch is None:
            yield file.schema_arrow.empty_table().to_pandas()


def _csv_frames(
    path: Path, shape: Shape, rows: int | None, limit: int | None
) -> Iterator[pd.DataFrame]:
    options: dict[str, Any] = {
        "sep": shape.separator,
        "encoding": shape.encoding,
        "header": shape.heading_row - 1,
        "dtype": str,
        "skip_blank_lines": False,
        "skipinitialspace": True,
        "keep_default_na": False,
        "na_values": [""],
        "index_col": False,
        "nrows": limit,
    }
    if rows is None:
        yield _quietly(lambda: pd.read_csv(path, **options))
        return
    with pd.read_csv(path, chunksize=rows, **options) as chunks:
        chunk = _quietly(lambda: next(chunks, None))
        yield _quietly(lambda: pd.read_csv(path, **options)) if chunk is None else chunk
        while chunk is not None:
            chunk = _quietly(lambda: next(chunks, None))
            if chunk is not None:
                yield chunk


def _quietly(read: Callable[[], Any]) -> Any:
    with warnings.catch_warnings():
        # Rows that end in a separator are common in logger exports and lose nothing.
        warnings.simplefilter("ignore", pd.errors.ParserWarning)
        return read()


def numbers(
    raw: pd.Series[Any], *, thousands: bool | None = None, points: bool | None = None
) -> np.ndarray[Any, np.dtype[np.float64]]:
    """Values as floats, NaN where blank or not a number; decimal commas and grouping understood.

    '1.234,5', '1,234.5' and '1 234,5' are all 1234.5. Where texts have only commas, `thousands`
    says what those are: grouping, or decimal commas; None leaves it to the texts given (see
    `shows_thousands`), which a part of a column must not decide alone; likewise `points` of texts
    with only points (see `shows_points`). What lies beyond 1e15 is taken for no number.
    """
    if pd.api.types.is_numeric_dtype(raw.dtype) and not pd.api.types.is_bool_dtype(raw.dtype):
        values = raw.to_numpy(dtype=float, na_value=np.nan)
        return _possible(values)
    if shows_points(raw) if points is None else points:
        raw = raw.map(lambda said: said.replace(".", "") if isinstance(said, str) else said)
    if thousands is None:
        thousands = shows_thousands(raw)
    plain = pd.to_numeric(raw, errors="coerce").to_numpy(dtype=float, na_value=np.nan, copy=True)
    odd = np.isnan(plain) & raw.notna().to_numpy()
    if odd.any():
        texts = raw[odd].astype(str).str.strip()
        plain[odd] = pd.to_numeric(_plainly(texts, thousands), errors="coerce").to_numpy(
            dtype=float, na_value=np.nan
        )
    return _possible(plain)


def shows_thousands(raw: pd.Series[Any]) -> bool:
    """Whether the commas of a column group digits.

    They do where some text has several commas and no point, and where all commas stand before
    three digits but some numbers have none: decimals would not all be three, or none.
    """
    texts = _odd_texts(raw, ",")
    if texts is None:
        return False
    # Typing errors such as 12,5O0 tell nothing of the others.
    commas = texts[texts.str.fullmatch(r"[+-]?[\d.,]*,[\d.,]*")]
    if bool(((commas.str.count(",") > 1) & ~commas.str.contains(".", regex=False)).any()):
        return True
    whole = texts.str.fullmatch(r"[+-]?\d+").sum()
    grouped = commas.str.fullmatch(_BY_COMMAS)
    return bool(len(commas) and grouped.all() and whole >= _ENOUGH)


def shows_points(raw: pd.Series[Any]) -> bool:
    """Whether the points of a column group digits, as in 1.234 and 987: never 1234, never 1.5."""
    texts = _odd_texts(raw, ".")
    if texts is None:
        return False
    points = texts.str.contains(".", regex=False)
    small = texts[~points].str.fullmatch(r"[+-]?\d{1,3}")
    grouped = texts[points].str.fullmatch(_BY_POINTS)
    return bool(grouped.all() and small.all() and small.sum() >= _ENOUGH)


def denies_points(raw: pd.Series[Any]) -> bool:
    """Whether a part of a column holds what it would not if its points grouped digits."""
    texts = raw.dropna().drop_duplicates().astype(str).str.strip()
    points = texts.str.contains(".", regex=False).to_numpy(dtype=bool)
    small = texts[~points].str.fullmatch(r"[+-]?\d{1,3}")
    return not bool(texts[points].str.fullmatch(_BY_POINTS).all() and small.all())


def _odd_texts(raw: pd.Series[Any], mark: str) -> pd.Series[Any] | None:
    """A column's different values as texts, if some hold the mark and may be grouped by it."""
    if pd.api.types.is_numeric_dtype(raw.dtype) or pd.api.types.is_datetime64_any_dtype(raw.dtype):
        return None
    said = raw.dropna()
    first = said.head(_FIRST)
    if mark == "." and not first.map(lambda v: isinstance(v, str)).any():
        return None
    if mark == "." and first.astype(str).str.contains(_POINT_DECIMALS).any():
        return None
    texts = said.drop_duplicates().astype(str).str.strip()
    return texts if texts.str.contains(mark, regex=False).any() else None


def _possible(
    values: np.ndarray[Any, np.dtype[np.float64]],
) -> np.ndarray[Any, np.dtype[np.float64]]:
    # NaN compares as false, and so is left out with what is infinite or beyond any register.
    return np.asarray(np.where(np.abs(values) < _BEYOND, values, np.nan), dtype=float)


def _plainly(texts: pd.Series[Any], grouping: bool | None) -> pd.Series[Any]:
    texts = texts.str.replace(_GROUPED, "", regex=True)
    comma, dot = texts.str.rfind(","), texts.str.rfind(".")
    english = (dot > comma) & (comma >= 0)
    both = (comma > dot) & (dot >= 0)
    if grouping is None:
        grouping = shows_thousands(texts)
    thousands = english | (grouping & (comma >= 0) & (dot < 0))
    texts = texts.mask(thousands, texts.str.replace(",", "", regex=False))
    texts = texts.mask(both, texts.str.replace(".", "", regex=False))
    return texts.str.replace(",", ".", regex=False)
