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
        raise UnreadableError(_torn(str(reason))) from reason
    except PermissionError as reason:
        raise UnreadableError("a file that you may not read") from reason
    except (OSError, pa.ArrowException, BadZipFile, KeyError, ValueError) as reason:
        raise UnreadableError(_broken(path)) from reason
    except Exception as reason:
        # What a reader of workbooks trips over in a damaged one has no family of its own.
        if path.suffix.lower() != ".xlsx":
            raise
        raise UnreadableError(_broken(path)) from reason


def _torn(reason: str) -> str:
    if "EOF inside string" in reason:
        return "a quotation mark that is opened and never closed"
    line = re.search(r"line (\d+)", reason)
    return f"more values than headings{f' in row {line[1]}' if line else ''}"


def _broken(path: Path) -> str:
    kind = path.suffix.lower().lstrip(".")
    return f"a file that cannot be read as {kind}"
