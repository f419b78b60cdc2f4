"""Every setting as a line of `district.toml` that is off: its default and its meaning."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Mapping
from datetime import date, time
from typing import Any

from district.settings import EmptyHours, ExceptionalUse, Holiday, Settings

_FOUND_ELSEWHERE = ("district", "layers", "records", "readings")
"""Sections written by what was found in the folder."""
_EXAMPLES = {
    "exceptional_use": ExceptionalUse(zone_id="ZONE", flow_l_s=0.0),
    "holidays": Holiday(first=date(2025, 12, 24), last=date(2026, 1, 1), name="Christmas"),
    "empty_hours": EmptyHours(places=("BUILDING",), start=time(23), end=time(5)),
}
"""Of sections that may stand several times."""
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_NOT_SHOWN = re.compile(r"[\x00-\x1f\x7f]+")


def toml_value(value: Any) -> str:
    """A value as TOML writes it.

    >>> toml_value("a\\"b"), toml_value(True), toml_value(time(2)), toml_value(0.5)
    ('"a\\\\"b"', 'true', '02:00:00', '0.5')
    >>> toml_value(()), toml_value(("a", "b"))
    ('[]', '["a", "b"]')
    """
    if isinstance(value, tuple):
        return f"[{', '.join(map(toml_value, value))}]"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (date, time)):
        return value.isoformat()
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    return repr(value)


def toml_key(key: str) -> str:
    """A key as TOML writes it, in quotation marks where it needs them.

    >>> toml_key("BM01"), toml_key("BM 01")
    ('BM01', '"BM 01"')
    """
    return key if _BARE_KEY.fullmatch(key) else toml_value(key)


def remark(words: str) -> str:
    """Words for the end of a line, without what a comment may not hold."""
    return f"  # {_NOT_SHOWN.sub(' ', words)}" if words else ""


def unused_lines(names: tuple[str, ...]) -> list[str]:
    """A line that names the user's columns that are not used, if there are any."""
    return [remark(f"Not used: {', '.join(names)}").strip()] if names else []


def off(lines: Iterable[str]) -> list[str]:
    """Lines switched off: '#' without a blank, so that prose and settings can be told apart."""
    return [line if not line or line.startswith("#") else f"#{line}" for line in lines]


def top_lines() -> list[str]:
    """Settings that stand before any section, off."""
    return off(_keys(Settings(), Settings, sections=False))


def district_lines(name: str, *, timezone_remark: str) -> list[str]:
    """The section of the district: its name on, its clock and money off."""
    fields = type(Settings().district).model_fields
    first, *others = _keys(Settings().district, type(Settings().district))
    del first
    others = [
        f"{line}: {timezone_remark}" if line.startswith("timezone") else line for line in others
    ]
    said = fields["name"].description or ""
    return ["[district]", f"name = {toml_value(name)}{remark(said)}", *off(others)]


def section_lines() -> list[str]:
    """Every other section, off."""
    settings = Settings()
    lines: list[str] = []
    for name in Settings.model_fields:
        part = getattr(settings, name)
        if name in _FOUND_ELSEWHERE:
            continue
        if name in _EXAMPLES:
            example = _EXAMPLES[name]
            lines += ["", f"[[{name}]]", *_keys(example, type(example))]
        elif isinstance(part, Mapping):
            for key, inner in part.items():
                lines += ["", f"[{name}.{toml_key(key)}]", *_keys(inner, type(inner))]
        elif hasattr(part, "model_fields_set"):
            lines += ["", f"[{name}]", *_keys(part, type(part))]
    return off(lines[1:])


def _keys(part: Any, model: Any, *, sections: bool = True) -> Iterator[str]:
    for name, field in model.model_fields.items():
        value = getattr(part, name)
        if sections or isinstance(value, (str, float, int)):
            yield f"{toml_key(name)} = {toml_value(value)}{remark(field.description or '')}"
