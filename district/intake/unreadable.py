"""What is raised where a file holds no table that can be read."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from zipfile import BadZipFile

import pandas as pd
import pyarrow as pa


class UnreadableError(ValueError):
    """A file cannot be read as the kind its name says; the text says why in a few words."""


class NoSheetError(UnreadableError):
    """A workbook lacks the sheet that was asked for; the text says which it has."""


@contextmanager
def as_unreadable(path: Path) -> Iterator[None]:
    """Whatever the readers of a file raise, as an `UnreadableError`."""
    try:
        yield
    except UnreadableError:
        raise
    except pd.errors.ParserError as reason:
        line = re.search(r"line (\d+)", str(reason))
        where = f" in row {line[1]}" if line else ""
        raise UnreadableError(f"more values than headings{where}") from reason
    except (OSError, pa.ArrowException, BadZipFile, KeyError, ValueError) as reason:
        kind = path.suffix.lower().lstrip(".")
        raise UnreadableError(f"a file that cannot be read as {kind}") from reason
