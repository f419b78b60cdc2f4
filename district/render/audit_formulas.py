"""Which cells of the audit are arithmetic of others, so that they can be live formulas.

As on the sheet of the annual balance, a formula is used only where it gives the figure the method
gave; a figure that cells do not make stays a number, and the sheet says so.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import pandas as pd

COLUMNS = {
    "value": "F",
    "value_low": "G",
    "value_high": "H",
    "lowers": "J",
    "raises": "K",
    "variance_share": "L",
}
"""Column of table AUDIT -> letter of its column on the sheet."""
LINKED = "figure above"
"""`source` of a row that is another figure of the same place."""
Piece = tuple[str, float]
"""A piece of a formula, and what it comes to."""


@dataclass(frozen=True)
class Live:
    """Formulas of one row of the sheet by column of AUDIT, and what it says of itself."""

    formulas: dict[str, str] = field(default_factory=dict)
    said: str = ""


@dataclass(frozen=True)
class _Block:
    """One figure: its own row, its inputs' rows, and what multiplies the rows that add up."""

    total: int
    inputs: tuple[int, ...]
    times: Piece


def live_rows(rows: Sequence[Mapping[str, Any]], *, first: int) -> list[Live]:
    """What each row of table AUDIT (as records) has for formulas when the first stands in sheet
    row `first`."""
    sheet = _Sheet(rows, first)
    return [sheet.live(at) for at in range(len(rows))]


class _Sheet:
    """The rows, where each figure stands, and where each input is first told."""

    def __init__(self, rows: Sequence[Mapping[str, Any]], first: int) -> None:
        self.rows, self.first = rows, first
        self.blocks: dict[tuple[str, str], _Block] = {}
        self.told: dict[tuple[Any, ...], int] = {}
        for place in _figures(rows):
            total, inputs = place[0], tuple(place[1:])
            key = (rows[total]["cell_id"], rows[total]["figure"])
            self.blocks[key] = _Block(total, inputs, self._times(inputs))
            for at in inputs:
                self.told.setdefault(self._input(at), at)

    def live(self, at: int) -> Live:
        """Formulas of one row."""
        row = self.rows[at]
        block = self.blocks[(row["cell_id"], row["figure"])]
        return self._total(block) if at == block.total else self._under(block, at)

    def cell(self, at: int, column: str) -> Piece:
        """A cell and what stands in it."""
        value = self.rows[at][column]
        return f"{COLUMNS[column]}{self.first + at}", 0.0 if _blank(value) else float(value)

    def _input(self, at: int) -> tuple[Any, ...]:
        row = self.rows[at]
        names = ("cell_id", "input", "unit", "value", "value_low", "value_high")
        return tuple(None if _blank(row[name]) else row[name] for name in names)

    def _times(self, inputs: Sequence[int]) -> Piece:
        text, number = "", 1.0
        for at in inputs:
            operation = self.rows[at]["operation"]
            cell, value = self.cell(at, "value")
            if operation == "×":
                text, number = f"{text}*{cell}", number * value
            elif operation == "÷" and value:
                text, number = f"{text}/{cell}", number / value
        return text, number

    def _total(self, block: _Block) -> Live:
        row = self.rows[block.total]
        formulas = {}
        sums, number = "", 0.0
        for at in block.inputs:
            sign = self.rows[at]["operation"]
            if sign in ("+", "-"):
                cell, value = self.cell(at, "value")
                sums, number = f"{sums}{sign}{cell}", number + (value if sign == "+" else -value)
        made = (f"({sums.removeprefix('+')}){block.times[0]}", number * block.times[1])
        if sums and _same(made[1], row["value"]):
            formulas["value"] = f"={made[0]}"
        elif sums and _same(max(0.0, made[1]), row["value"]):
            formulas["value"] = f"=MAX(0,{made[0]})"
        if block.inputs:
            cell, value = self.cell(block.total, "value")
            first, last = self.first + block.inputs[0], self.first + block.inputs[-1]
            for column, effect, sign in (("value_low", "lowers", -1), ("value_high", "raises", 1)):
                letter = COLUMNS[effect]
                root = math.sqrt(sum(self.cell(at, effect)[1] ** 2 for at in block.inputs))
                squares = f"SUMSQ({letter}{first}:{letter}{last})"
                text = f"{cell}{'-' if sign < 0 else '+'}SQRT({squares})"
                number = value + sign * root
                for form, worth in ((text, number), (f"MAX(0,{text})", max(0.0, number))):
                    if column not in formulas and _same(worth, row[column]):
                        formulas[column] = f"={form}"
        said = "formula" if "value" in formulas else "number: worked out from the record, not cells"
        return Live(formulas, said)

    def _under(self, block: _Block, at: int) -> Live:
        row = self.rows[at]
        formulas: dict[str, str] = {}
        of = self.blocks.get((row["cell_id"], row["input"])) if row["source"] == LINKED else None
        origin = of.total if of else self.told[self._input(at)]
        if origin != at:
            for column in ("value", "value_low", "value_high"):
                if not _blank(row[column]) and _same(self.cell(origin, column)[1], row[column]):
                    formulas[column] = f"={self.cell(origin, column)[0]}"
        if _blank(row["lowers"]):
            return Live(formulas, "link" if of else "input")
        down, up = self._effects(block, at)
        if down and up:
            formulas |= {"lowers": f"={down}", "raises": f"={up}"}
        formulas |= self._share(block, at)
        said = "input" if origin == at else "input told above"
        return Live(formulas, said if down and up else f"{said}; its effect is a number")

    def _share(self, block: _Block, at: int) -> dict[str, str]:
        total = sum(self.cell(i, c)[1] ** 2 for i in block.inputs for c in ("lowers", "raises"))
        if not total:
            return {}
        low, high = COLUMNS["lowers"], COLUMNS["raises"]
        first, last = self.first + block.inputs[0], self.first + block.inputs[-1]
        own = f"{low}{self.first + at}:{high}{self.first + at}"
        return {"variance_share": f"=SUMSQ({own})/SUMSQ({low}{first}:{high}{last})"}

    def _effects(self, block: _Block, at: int) -> tuple[str, str]:
        """Formulas of how far the input lowers and raises its figure; '' where none gives it."""
        row = self.rows[at]
        for down, up in self._tries(block, at):
            ways = [(down, up), (up, down)]
            # Both give the value where limits are even; only one where they are changed later.
            for low, high in reversed(ways) if row["operation"] == "-" else ways:
                if _same(low[1], row["lowers"]) and _same(high[1], row["raises"]):
                    return low[0], high[0]
        return "", ""

    def _tries(self, block: _Block, at: int) -> Iterator[tuple[Piece, Piece]]:
        through = list(self._through(block, at))
        if len(through) == 1:
            yield through[0]
        elif through:
            first, second = ([t[side] for t in through] for side in (0, 1))
            yield _rooted(first), _rooted(second)
            if len(through) == 2:
                yield _apart(first), _apart(second)
        (value, of), (low, least), (high, most) = (
            self.cell(at, c) for c in ("value", "value_low", "value_high")
        )
        down, up = (f"({value}-{low})", of - least), (f"({high}-{value})", most - of)
        yield down, up
        text, times = block.times
        yield (f"{down[0]}{text}", down[1] * times), (f"{up[0]}{text}", up[1] * times)
        whole, figure = self.cell(block.total, "value")
        if of:
            share = f"ABS({whole}/{value})*"
            size = abs(figure / of)
            yield (f"{share}{down[0]}", size * down[1]), (f"{share}{up[0]}", size * up[1])

    def _through(self, block: _Block, at: int) -> Iterator[tuple[Piece, Piece]]:
        """What the input does to each figure this one is made of, times what that does here."""
        row = self.rows[at]
        text, times = block.times
        whole, figure = self.cell(block.total, "value")
        for link in block.inputs:
            of = self.blocks.get((row["cell_id"], self.rows[link]["input"]))
            operation = self.rows[link]["operation"]
            if of is None or of is block or not operation or self.rows[link]["source"] != LINKED:
                continue
            same = [i for i in of.inputs if self._input(i) == self._input(at)]
            same = [i for i in same if not _blank(self.rows[i]["lowers"])]
            if not same:
                continue
            down, up = self.cell(same[0], "lowers"), self.cell(same[0], "raises")
            cell, value = self.cell(link, "value")
            if operation in ("×", "÷"):
                if not value:
                    continue
                scaled, size = f"*ABS({whole}/{cell})", abs(figure / value)
            else:
                scaled, size = text, times
            pair = (f"{down[0]}{scaled}", down[1] * size), (f"{up[0]}{scaled}", up[1] * size)
            yield pair if operation in ("+", "×") else (pair[1], pair[0])


def _figures(rows: Sequence[Mapping[str, Any]]) -> Iterator[list[int]]:
    """Positions of the rows of each figure, its own first."""
    block: list[int] = []
    for at, row in enumerate(rows):
        if row["rank"] == 0 and block:
            yield block
            block = []
        block.append(at)
    if block:
        yield block


def _rooted(pieces: list[Piece]) -> Piece:
    text = ",".join(p[0] for p in pieces)
    return f"SQRT(SUMSQ({text}))", math.sqrt(sum(p[1] ** 2 for p in pieces))


def _apart(pieces: list[Piece]) -> Piece:
    return f"ABS({pieces[0][0]}-{pieces[1][0]})", abs(pieces[0][1] - pieces[1][1])


def _blank(value: Any) -> bool:
    return value is None or bool(pd.isna(value))


def _same(number: float, shown: Any) -> bool:
    return not _blank(shown) and math.isclose(number, float(shown), rel_tol=1e-7, abs_tol=1e-12)
