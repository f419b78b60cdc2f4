"""Columns of choices as people fill them in: codes, abbreviations, words of the trade."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd

from district.errors import Finding, Severity
from district.intake.choice_words import NO, YES, plain, says_nothing, understood
from district.layer_settings import coded
from district.schema.columns import Column, Table
from district.settings import FILE
from district.words import SHOWN, id_text, missing, places

CODE_LENGTH = 4
"""A text no longer than this is a code, and what it was read as is told."""
_MOST = 12
"""More texts than these that mean nothing: rather the column is another than the list too short."""
Meanings = Mapping[str, Mapping[str, str]]
"""Column -> what a text or code in it means, as the user's settings say."""


@dataclass(frozen=True, eq=False)
class Choices:
    """A frame whose texts are our choices, wherever they were understood."""

    frame: pd.DataFrame
    findings: tuple[Finding, ...] = ()
    told: dict[str, set[Any]] = field(default_factory=dict)
    """By column, the rows whose text was not understood and is told of in the findings."""


def read_choices(
    frame: pd.DataFrame,
    table: Table,
    meanings: Meanings,
    *,
    source: str,
    section: str,
    place: Callable[[Any], str],
) -> Choices:
    """The frame with choices, yes and no as we write them.

    What `meanings` says comes first, then our own words in any capitals, then words of the trade.
    Where a column need not be filled in, a text such as 'n/a' counts as empty, and so does one that
    nothing explains, with one finding a text: an error, but where we have a choice 'unknown' a
    warning. `section` is where the settings speak of the table ('layers.pipes').
    """
    frame, findings, told = frame.copy(), [], {}
    for name, choices in coded(table).items():
        if name not in frame.columns:
            continue
        column, said = table[name], frame[name].astype(object)
        numbers, texts = _distinct(said)
        read = _read(table, column, choices, texts, meanings.get(name, {}))
        where = f"[{section}.values.{name}] in {FILE}"
        codes = _codes(texts, read, column, meanings.get(name, {}))
        if codes:
            findings.append(_taken(source, name, codes, where))
        unread = [n for n, meant in enumerate(read) if meant is None]
        if unread:
            told[name] = set(said.index[np.isin(numbers, unread)])
            if len(unread) > _MOST:
                names = [texts[n] for n in unread]
                findings.append(_too_many(column, names, source=source, where=where))
            else:
                rows = {texts[n]: said.index[numbers == n] for n in unread}
                words = {text: [place(row) for row in rows[text]] for text in rows}
                findings += _unread(column, words, source=source, where=where)
        kept = [text if meant is None and column.required else meant
                for text, meant in zip(texts, read, strict=True)]  # fmt: skip
        meant = np.array([*(None if k in (None, "") else k for k in kept), None], dtype=object)
        frame[name] = pd.Series(meant[numbers], index=frame.index, dtype=object)
    return Choices(frame, tuple(findings), told)


def unexplained(table: Table, column: str, values: pd.Series[Any]) -> dict[str, int]:
    """The texts of a column that nothing explains and how often each comes, most frequent first."""
    choices = coded(table).get(column, ())
    numbers, texts = _distinct(values.astype(object))
    read = _read(table, table[column], choices, texts, {})
    often = np.bincount(numbers[numbers >= 0], minlength=len(texts))
    left = [n for n, meant in enumerate(read) if meant is None]
    return {texts[n]: int(often[n]) for n in sorted(left, key=lambda n: (-often[n], texts[n]))}


def _distinct(said: pd.Series[Any]) -> tuple[np.ndarray[Any, np.dtype[np.int64]], list[str]]:
    """For each row the number of its text, -1 where blank, and the texts."""
    blank = said.map(missing).astype(bool)
    texts = said.where(~blank).map(id_text, na_action="ignore")
    numbers, unique = pd.factorize(texts, use_na_sentinel=True)
    return np.asarray(numbers, dtype=np.int64), [str(text) for text in unique]


def _read(
    table: Table, column: Column, choices: tuple[str, ...], texts: list[str], own: Mapping[str, str]
) -> list[str | None]:
    """For each text what it means: '' for nothing known, None where nothing explains it."""
    mapped = {_key(code): meaning for code, meaning in own.items()}
    plainly = {plain(choice): choice for choice in choices}
    beside = frozenset(plain(text) for text in texts)
    read: list[str | None] = []
    for text in texts:
        meant: str | None = mapped.get(_key(text)) or plainly.get(plain(text))
        if not choices:
            meant = meant or text
        elif column.kind == "flag":
            meant = meant or _answer(text)
        else:
            meant = meant or understood(table.name, column.name, text, beside=beside)
        if not meant:
            meant = "" if not column.required and says_nothing(text) else None
        read.append(meant)
    return read


def _key(text: str) -> str:
    return " ".join(id_text(text).casefold().split())


def _answer(text: str) -> str:
    said = plain(text.removesuffix(".0"))
    return "true" if said in YES else "false" if said in NO else ""


def _codes(
    texts: list[str], read: list[str | None], column: Column, own: Mapping[str, str]
) -> dict[str, str]:
    mapped = {_key(code) for code in own}
    return {
        text: meant
        for text, meant in zip(texts, read, strict=True)
        if meant and column.choices and _key(text) not in mapped
        if plain(text) != plain(meant) and len(plain(text)) <= CODE_LENGTH
    }


def _taken(source: str, column: str, codes: dict[str, str], where: str) -> Finding:
    listed = "; ".join(f'"{code}", read as {codes[code]}' for code in sorted(codes))
    remedy = f"Where one means something else, say so under {where}"
    return Finding("note", source, column=column, got=listed, remedy=remedy)


def _severity(column: Column) -> Severity:
    # A material not understood is one not known; a valve's state or a meter's role is not.
    return "warning" if column.default == "unknown" else "error"


def _too_many(column: Column, texts: list[str], *, source: str, where: str) -> Finding:
    first = ", ".join(f'"{_short(text)}"' for text in texts[:SHOWN])
    return Finding(
        _severity(column),
        source,
        column=column.name,
        got=f"{len(texts)} texts that mean none of these, such as {first}",
        expected=column.expectation(),
        remedy=f"Name the right column, or say under {where} what each means",
    )


def _unread(
    column: Column, rows: dict[str, list[str]], *, source: str, where: str
) -> list[Finding]:
    example = str(column.default if column.default is not None else column.choices[0]).lower()
    return [
        Finding(
            _severity(column),
            source,
            _place(there),
            column.name,
            got=f'"{_short(text)}"',
            expected=column.expectation(),
            remedy=f"Correct it, or say under {where} what it means, as in "
            f'"{_short(text)}" = "{example}"',
        )
        for text, there in rows.items()
    ]


def _place(there: list[str]) -> str:
    word = there[0].partition(" ")[0]
    return places(word, [one.partition(" ")[2] for one in there])


def _short(text: str) -> str:
    return text if len(text) <= 60 else f"{text[:57]}..."
