"""What the templates of the pages share: how text is escaped, and how figures are put in."""

from __future__ import annotations

from importlib.resources import files as resources
from typing import Any

import jinja2
import pandas as pd
from markupsafe import Markup

from district import words
from district.render.text import bound


def environment() -> jinja2.Environment:
    """Templates of this room: all text escaped, every figure bound to its unit, and a name that is
    not given an error."""
    made = jinja2.Environment(
        loader=jinja2.PackageLoader("district", "render"),
        autoescape=True,
        finalize=bound,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    made.filters.update(day=words.day, words=words.spelled, sentence=sentence)
    made.globals.update(
        fig=words.figure, limits=limits, missing=words.missing, plural=words.plural,
        flag=words.true, whole=words.whole,
    )  # fmt: skip
    return made


def styles(*names: str) -> Markup:
    """The style sheets of these names, one after another."""
    room = resources("district.render")
    return Markup("".join((room / name).read_text("utf-8") for name in names))


def sentence(text: Any) -> str:
    """Text of a table as a sentence: a capital first, a full stop last; '' where there is none.

    >>> sentence("night flow rose"), sentence("Look at it."), sentence(None)
    ('Night flow rose.', 'Look at it.', '')
    """
    if words.missing(text):
        return ""
    plain = str(text).strip()
    return plain[:1].upper() + plain[1:] + ("" if plain.endswith((".", "!", "?", ":")) else ".")


def finished(page: str) -> str:
    """The page with no space at the end of a line."""
    return "\n".join(line.rstrip() for line in page.splitlines()) + "\n"


def limits(row: Any, name: str, *, like: str = "") -> Markup:
    """A figure for a table cell: the value, and its limits small beneath it; rounded as one of the
    name `like` would be where that is given: a count that is expected is no whole number."""
    middle, low, high = words.rounded(
        row.get(name), row.get(f"{name}_low"), row.get(f"{name}_high"), like or name
    )
    if not low:
        return Markup("<b>{}</b>").format(middle) if middle != words.EMPTY else Markup(middle)
    return Markup("<b>{}</b> <small>{} to {}</small>").format(middle, low, high)


def row_dicts(frame: pd.DataFrame) -> list[dict[str, Any]]:
    """The rows of a table, each by the names of its columns."""
    return [dict(row) for _, row in frame.iterrows()]
