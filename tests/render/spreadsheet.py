"""A small evaluator of spreadsheet formulas, so that live ones are checked by other means than
those that wrote them: + - * / ( ), SQRT, SUMSQ, SUM, MAX, ABS and references to cells."""

from __future__ import annotations

import math
import re
from typing import Any

_TOKEN = re.compile(
    r"\s*(?:(?P<number>\d+\.?\d*(?:[eE][+-]?\d+)?)|(?P<range>[A-Z]+\d+:[A-Z]+\d+)"
    r"|(?P<cell>[A-Z]+\d+)|(?P<name>[A-Z]+)|(?P<sign>[-+*/(),]))"
)
_FUNCTIONS = {
    "SQRT": lambda values: math.sqrt(values[0]),
    "SUMSQ": lambda values: math.fsum(v * v for v in values),
    "SUM": math.fsum,
    "MAX": max,
    "ABS": lambda values: abs(values[0]),
}


class Evaluator:
    """Numbers of a sheet of openpyxl (formulas read as text); empty cells count as 0."""

    def __init__(self, sheet: Any, changed: dict[str, float] | None = None) -> None:
        self.sheet, self.known, self.open = sheet, dict(changed or {}), set[str]()

    def cell(self, name: str) -> float:
        if name not in self.known:
            if name in self.open:
                raise AssertionError(f"{name} refers to itself")
            self.open.add(name)
            value = self.sheet[name].value
            text = isinstance(value, str) and value.startswith("=")
            self.known[name] = self.formula(value[1:]) if text else float(value or 0.0)
            self.open.remove(name)
        return self.known[name]

    def formula(self, text: str) -> float:
        tokens, at = [], 0
        while at < len(text):
            found = _TOKEN.match(text, at)
            if found is None:
                raise AssertionError(f"not read: {text[at:]}")
            tokens.append((str(found.lastgroup), found[0].strip()))
            at = found.end()
        value, left = self._sum(tokens)
        if left:
            raise AssertionError(f"left over in {text}: {left}")
        return value

    def _sum(self, tokens: Any) -> Any:
        value, tokens = self._product(tokens)
        while tokens and tokens[0][1] in ("+", "-"):
            other, rest = self._product(tokens[1:])
            value, tokens = value + other if tokens[0][1] == "+" else value - other, rest
        return value, tokens

    def _product(self, tokens: Any) -> Any:
        value, tokens = self._atom(tokens)
        while tokens and tokens[0][1] in ("*", "/"):
            other, rest = self._atom(tokens[1:])
            value, tokens = value * other if tokens[0][1] == "*" else value / other, rest
        return value, tokens

    def _atom(self, tokens: Any) -> Any:
        (kind, text), rest = tokens[0], tokens[1:]
        if text == "-":
            value, rest = self._atom(rest)
            return -value, rest
        if text == "(":
            value, rest = self._sum(rest)
            return value, rest[1:]
        if kind == "name":
            values, rest = [], rest[1:]
            while True:
                if rest[0][0] == "range":
                    values += self._range(rest[0][1])
                    rest = rest[1:]
                else:
                    value, rest = self._sum(rest)
                    values.append(value)
                if rest[0][1] == ")":
                    return _FUNCTIONS[text](values), rest[1:]
                rest = rest[1:]
        return (float(text) if kind == "number" else self.cell(text)), rest

    def _range(self, text: str) -> list[float]:
        return [self.cell(c.coordinate) for row in self.sheet[text] for c in row]
