"""How a text file of values is written: its encoding and its separator."""

from __future__ import annotations

import codecs
import csv
import io
from pathlib import Path

from district.intake.unreadable import UnreadableError

SEPARATORS = ";\t|,"
_BLOCK = 1 << 20
_SAMPLED = 16
"""Blocks looked at where only the first rows are wanted."""


def encoding_of(path: Path, *, whole: bool = True) -> str:
    """UTF-8, UTF-16 or Windows Western, as Python names them; the file is never held in memory.

    With `whole` false its first 16 MB decide.
    """
    with path.open("rb") as file:
        block = file.read(_BLOCK)
        if block.startswith((b"\xff\xfe", b"\xfe\xff")):
            return "utf-16"
        sample = block[:4096]
        if sample[1::2].count(0) > len(sample) // 3:
            return "utf-16-le"
        if sample[0::2].count(0) > len(sample) // 3:
            return "utf-16-be"
        decoder = codecs.getincrementaldecoder("utf-8")()
        seen = 0
        try:
            while block and (whole or seen < _SAMPLED):
                decoder.decode(block)
                block, seen = file.read(_BLOCK), seen + 1
            decoder.decode(b"", final=not block)
        except UnicodeDecodeError:
            return "cp1252"
    return "utf-8-sig"


def first_lines(path: Path, encoding: str, count: int) -> list[str]:
    """The file's first lines, blank ones too. Raises `UnreadableError` where it is not text."""
    with path.open("rb") as raw:
        file = io.TextIOWrapper(raw, encoding=encoding, errors="replace")
        lines = [file.readline(_BLOCK) for _ in range(count)]
    lines = [line.rstrip("\n") for line in lines if line]
    if any("\x00" in line for line in lines):
        raise UnreadableError("a file that is not text")
    if not any(line.strip() for line in lines):
        raise UnreadableError("an empty file")
    return lines


def separator_of(heading: str) -> str:
    """The separator that splits a heading most; a comma where none does."""
    counts = {s: heading.count(s) for s in SEPARATORS}
    best = max(SEPARATORS, key=lambda s: counts[s])
    return best if counts[best] else ","


def cells(lines: list[str], separator: str) -> list[list[str | None]]:
    """Lines taken apart, None for an empty cell; a quoted text may run over several lines."""
    rows = csv.reader((f"{line}\n" for line in lines), delimiter=separator, skipinitialspace=True)
    try:
        return [[cell.strip() or None for cell in row] for row in rows]
    except csv.Error:
        return []
