"""Values that the settings refuse, in words: what stands there, what was expected, the mend."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from district.errors import Finding

_LONGEST = 80
_TEXT = "text in quotation marks"
_NUMBER, _WHOLE = "a number without unit or quotation marks", "a whole number"
_TIME = "a time of the day such as 02:00:00"
_EXPECTED = {
    "string_type": _TEXT,
    "float_type": _NUMBER,
    "float_parsing": _NUMBER,
    "finite_number": _NUMBER,
    "int_type": _WHOLE,
    "int_parsing": _WHOLE,
    "int_parsing_size": _WHOLE,
    "int_from_float": _WHOLE,
    "time_type": _TIME,
    "time_parsing": _TIME,
}
_LIMITS = {"greater_than_equal": "ge", "greater_than": "gt", "less_than_equal": "le"}
_LIMITS |= {"less_than": "lt"}
_LIMIT_WORDS = {"ge": "at least", "gt": "more than", "le": "at most", "lt": "less than"}
_LEAST = 1e-6
"""The smallest of what must be more than nothing."""


class MisplacedError(ValueError):
    """What is wrong with a key below the one being validated."""

    def __init__(self, place: str, *, got: str, expected: str) -> None:
        super().__init__(expected)
        self.place, self.got = place, got


def refusal(error: Mapping[str, Any], *, file: str) -> Finding:
    """One error of a validation of the settings as a finding in `file`.

    `error` has its type, its place (loc), the value that came (input), a message (msg) and, with
    limits and choices, what these are (ctx).
    """
    kind, loc = str(error["type"]), tuple(error["loc"])
    keys = [str(p) for p in loc if not isinstance(p, int)]
    # Of sections that may come several times, people count the first as 1.
    entries = "".join(f", entry {p + 1}" for p in loc if isinstance(p, int))
    got, mend = _shown(error["input"]), "Correct the value"
    below = error.get("ctx", {}).get("error")
    if isinstance(below, MisplacedError):
        keys, got = [*keys, below.place], below.got
    place = ".".join(keys) + entries
    if kind == "extra_forbidden":
        got, mend = "a key that is not known here", "Check the spelling, or remove the line"
        expected = "only keys listed in README, section Settings"
    elif kind == "missing":
        got, mend = "no such key", "Add the line"
        expected = f"a line {keys[-1]} = ..., as it has no default"
    elif kind == "tuple_type":
        expected = f"[[{keys[-1]}]] in double brackets, as there may be several"
        mend = "Add the second brackets"
    elif kind in ("model_type", "dict_type", "model_attributes_type"):
        path = ".".join(keys)
        expected = f"a section [{path}] with lines of key = value below it"
        mend = "Write it as a section of its own"
    else:
        expected = _expected(kind, error)
    return Finding("error", file, place, "", got, expected, mend)


def each_its_own(columns: dict[str, str]) -> dict[str, str]:
    """The user's columns (ours = theirs) as given; raises `ValueError` where two of ours are to
    be read from one of theirs."""
    ours: dict[str, str] = {}
    for name, theirs in columns.items():
        if ours.setdefault(theirs, name) != name:
            raise ValueError(f'a column for each, not "{theirs}" for {ours[theirs]} and {name}')
    return columns


def _expected(kind: str, error: Mapping[str, Any]) -> str:
    if kind.startswith("datetime"):
        return "a local time as YYYY-MM-DD HH:MM"
    if kind in _EXPECTED:
        return _EXPECTED[kind]
    if kind in _LIMITS:
        given = error["input"]
        if isinstance(given, float) and math.isnan(given):
            return _NUMBER
        return _limit(_LIMITS[kind], float(error["ctx"][_LIMITS[kind]]))
    message = str(error["msg"]).removeprefix("Value error, ").removeprefix("Input should be ")
    if kind == "literal_error":
        return message.replace("'", '"')
    return message[:1].lower() + message[1:]


def _limit(sign: str, limit: float) -> str:
    if sign == "ge" and limit == _LEAST:
        return "more than 0"
    return f"{_LIMIT_WORDS[sign]} {limit:,.10g}".replace(",", "\u00a0")


def _shown(value: Any) -> str:
    """A value as it stands in the file, cut where it is long."""
    said = _written(value)
    if isinstance(value, Mapping):
        said = said.removeprefix("{").removesuffix("}") or "nothing"
    return said if len(said) <= _LONGEST else f"{said[: _LONGEST - 3]}..."


def _written(value: Any) -> str:
    if isinstance(value, str):
        return f'"{value}"'
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{k} = {_written(v)}" for k, v in value.items()) + "}"
    if isinstance(value, (list, tuple)):
        return f"[{', '.join(map(_written, value))}]"
    return str(value)
