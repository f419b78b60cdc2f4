"""What was guessed of a folder, each guess with how sure it is and why."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

Sureness = Literal["sure", "likely", "unsure"]
"""An unsure guess is written as a comment: a person decides."""

EMPTY = "it is empty in the first rows"


@dataclass(frozen=True)
class ColumnGuess:
    """Which of the user's columns holds one of ours."""

    ours: str
    theirs: str
    sureness: Sureness
    why: str
    unit: str = ""
    """Unit the column is in; empty if it is ours."""
    remark: str = ""
    """What keeps its values from being used as they stand; empty if nothing."""
    unread: tuple[str, ...] = ()
    """Texts in a column of choices that mean none of them."""


@dataclass(frozen=True)
class LayerGuess:
    """Which file, and layer in it, holds one of our layers or records."""

    table: str
    file: str
    layer: str
    """Empty where the file holds only this one."""
    sureness: Sureness
    why: str
    columns: tuple[ColumnGuess, ...] = ()
    lacking: tuple[str, ...] = ()
    """Required columns for which none was found."""
    rivals: tuple[str, ...] = ()
    """Other layers that look like the same table."""
    placed: bool = True
    """Whether the file says where on the earth it lies."""
    sheet: str = ""
    """Empty where the file holds only this table."""
    unused: tuple[str, ...] = ()
    """Columns of the user's that are not used."""

    def place(self) -> str:
        """File, and sheet where it holds several tables."""
        return f"{self.file}, sheet {self.sheet}" if self.sheet else self.file


@dataclass(frozen=True)
class ReadingsGuess:
    """A kind of reading file, and how it is laid out."""

    pattern: str
    files: tuple[str, ...]
    layout: Literal["long", "wide"]
    sureness: Sureness
    why: str
    columns: tuple[ColumnGuess, ...] = ()
    timezone: str = ""
    """Empty if nothing tells it."""
    timezone_why: str = ""
    stamp: Literal["", "start", "end"] = ""
    """Empty if nothing tells it."""
    stamp_why: str = ""
    values: str = ""
    """What the values look like: a register, pulses, a rate ..."""
    doubt: str = ""
    """Where that is not how the meters are said to report; empty if nowhere."""
    sheet: str = ""
    """Empty where all sheets with times are alike."""
    heading_row: int = 1
    unused: tuple[str, ...] = ()
    """Columns of the user's that are not used, of all its files."""


@dataclass(frozen=True)
class LeftOut:
    """A file, or layer in it, that was taken for nothing, and why."""

    file: str
    why: str


@dataclass(frozen=True)
class Proposal:
    """All guesses of a folder."""

    folder: Path
    layers: tuple[LayerGuess, ...] = ()
    records: tuple[LayerGuess, ...] = ()
    readings: tuple[ReadingsGuess, ...] = ()
    left_out: tuple[LeftOut, ...] = ()

    def tables(self) -> tuple[str, ...]:
        """Names of the layers and records for which a file was found."""
        return tuple(guess.table for guess in (*self.layers, *self.records))
