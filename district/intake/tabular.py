"""CSV, Parquet and XLSX files as a table of what the user wrote, and texts as numbers."""

from __future__ import annotations

import io
import re
import warnings
from collections.abc import Iterator
from itertools import islice
from pathlib import Path
from typing import Any
from zipfile import BadZipFile

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq

SUFFIXES = (".csv", ".txt", ".tsv", ".parquet", ".xlsx")
_SEPARATORS = ";\t|,"
_BEYOND = 1e15
"""No meter counts this far; squares and sums of such values would lose their meaning."""
_GROUPED = re.compile(r"[\s'\u00a0\u202f](?=\d{3})")


class UnreadableError(ValueError):
    """A file cannot be read as the kind its name says; the text says why in a few words."""


def read_table(path: Path, *, limit: int | None = None) -> pd.DataFrame:
    """The file's first table, values as written, indexed by row number as a spreadsheet shows it.

    With `limit`, no more than its first so many rows. Texts of a CSV stay texts; XLSX and Parquet
    keep their numbers and times. The heading is row 1. Separator, encoding (UTF-8, UTF-16,
    Windows) and byte order mark are found out. Raises `UnreadableError` for a broken or foreign
    file, and one without any heading.
    """
    try:
        match path.suffix.lower():
            case ".parquet":
                frame = pd.read_parquet(path) if limit is None else _first_batch(path, limit)
            case ".xlsx":
                frame = pd.read_excel(path, dtype=object, engine="openpyxl", nrows=limit)
            case _:
                frame = _read_csv(path, limit)
    except UnreadableError:
        raise
    except pd.errors.ParserError as reason:
        line = re.search(r"line (\d+)", str(reason))
        where = f" in row {line[1]}" if line else ""
        raise UnreadableError(f"more values than headings{where}") from reason
    except (OSError, pa.ArrowException, BadZipFile, KeyError, ValueError) as reason:
        kind = path.suffix.lower().lstrip(".")
        raise UnreadableError(f"a file that cannot be read as {kind}") from reason
    if not isinstance(frame.index, pd.RangeIndex):
        frame = frame.reset_index()
    frame.columns = [str(c).strip() for c in frame.columns]
    frame.index = pd.RangeIndex(2, len(frame) + 2)
    return frame.dropna(how="all")


def read_chunks(path: Path) -> Iterator[pd.DataFrame]:
    """The file's first table, piece by piece; as `read_table`."""
    yield read_table(path)


def _first_batch(path: Path, limit: int) -> pd.DataFrame:
    with pq.ParquetFile(path) as file:
        batch = next(file.iter_batches(batch_size=limit), None)
        return (file.schema_arrow.empty_table() if batch is None else batch).to_pandas()


def _read_csv(path: Path, limit: int | None) -> pd.DataFrame:
    with path.open("rb") as file:
        raw = file.read() if limit is None else b"".join(islice(file, limit + 1))
    encoding = _encoding(raw)
    if encoding.startswith("utf-16") and len(raw) % 2:
        # A limit may cut the last line end of two bytes in half.
        raw = raw[:-1]
    head = raw[:65536].decode(encoding, errors="replace")
    lines = [line for line in head.splitlines() if line.strip()]
    if not lines:
        raise UnreadableError("an empty file")
    if "\x00" in head:
        raise UnreadableError("a file that is not text")
    with warnings.catch_warnings():
        # Rows that end in a separator are common in logger exports and lose nothing.
        warnings.simplefilter("ignore", pd.errors.ParserWarning)
        return pd.read_csv(
            io.BytesIO(raw),
            sep=_separator(lines),
            encoding=encoding,
            dtype=str,
            skip_blank_lines=False,
            skipinitialspace=True,
            keep_default_na=False,
            na_values=[""],
            index_col=False,
        )


def _encoding(raw: bytes) -> str:
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        return "utf-16"
    sample = raw[:4096]
    if sample[1::2].count(0) > len(sample) // 3:
        return "utf-16-le"
    if sample[0::2].count(0) > len(sample) // 3:
        return "utf-16-be"
    try:
        raw.decode("utf-8")
    except UnicodeDecodeError:
        return "cp1252"
    return "utf-8-sig"


def _separator(lines: list[str]) -> str:
    """The separator that splits the heading most, and does not stand in the numbers below it."""
    heading = lines[0]
    counts = {s: heading.count(s) for s in _SEPARATORS}
    best = max(_SEPARATORS, key=lambda s: counts[s])
    return best if counts[best] else ","


def numbers(raw: pd.Series[Any]) -> np.ndarray[Any, np.dtype[np.float64]]:
    """Values as floats, NaN where blank or not a number; decimal commas and grouping understood.

    '1.234,5', '1,234.5' and '1 234,5' are all 1234.5. Where a text has only commas, one comma is
    a decimal comma unless every one of the column's commas stands before exactly three digits
    and some value has two of them. What lies beyond 1e15 is taken for no number.
    """
    if pd.api.types.is_numeric_dtype(raw.dtype) and not pd.api.types.is_bool_dtype(raw.dtype):
        values = raw.to_numpy(dtype=float, na_value=np.nan)
        return _possible(values)
    plain = pd.to_numeric(raw, errors="coerce").to_numpy(dtype=float, na_value=np.nan, copy=True)
    odd = np.isnan(plain) & raw.notna().to_numpy()
    if odd.any():
        texts = raw[odd].astype(str).str.strip()
        plain[odd] = pd.to_numeric(_plainly(texts), errors="coerce").to_numpy(
            dtype=float, na_value=np.nan
        )
    return _possible(plain)


def _possible(
    values: np.ndarray[Any, np.dtype[np.float64]],
) -> np.ndarray[Any, np.dtype[np.float64]]:
    # NaN compares as false, and so is left out with what is infinite or beyond any register.
    return np.asarray(np.where(np.abs(values) < _BEYOND, values, np.nan), dtype=float)


def _plainly(texts: pd.Series[Any]) -> pd.Series[Any]:
    texts = texts.str.replace(_GROUPED, "", regex=True)
    comma, dot = texts.str.rfind(","), texts.str.rfind(".")
    english = (dot > comma) & (comma >= 0)
    both = (comma > dot) & (dot >= 0)
    several = (comma >= 0) & (dot < 0) & (texts.str.count(",") > 1)
    thousands = english | (several.any() & (comma >= 0) & (dot < 0))
    texts = texts.mask(thousands, texts.str.replace(",", "", regex=False))
    texts = texts.mask(both, texts.str.replace(".", "", regex=False))
    return texts.str.replace(",", ".", regex=False)
