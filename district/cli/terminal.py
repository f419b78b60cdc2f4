"""What the terminal and the disk can bear: plain signs and one line, rather than a failure."""

from __future__ import annotations

import codecs
import io
import sys
import unicodedata
from typing import Any

import click

_PLAIN = {"–": "-", "—": "-", "─": "-", "≥": ">=", "≤": "<=", "×": "x", "→": "->"}
_HANDLER = "district.plain"


class Commands(click.Group):
    """Commands that print on any terminal, and name the file that cannot be read or written."""

    def invoke(self, ctx: click.Context) -> Any:
        bear_any_sign()
        try:
            return super().invoke(ctx)
        except BrokenPipeError:
            raise  # As with `| head`: click ends quietly.
        except OSError as reason:
            click.echo(
                f"{reason.filename or 'output'}: cannot be read or written "
                f"({reason.strerror or reason}). Check who may use it, and the room on its disk.",
                err=True,
            )
            sys.exit(2)


def bear_any_sign() -> None:
    """Let standard output write plainly what its encoding lacks: 'm3' where it has no 'm³'."""
    codecs.register_error(_HANDLER, _plainly)
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(errors=_HANDLER)


def plain(text: str) -> str:
    """The text in ASCII, as near as it gets.

    >>> plain("m³: 0.65–0.79, Zürich, 水")
    'm3: 0.65-0.79, Zurich, ?'
    """
    return "".join(_plain_sign(sign) for sign in text)


def _plain_sign(sign: str) -> str:
    if sign.isascii():
        return sign
    near = unicodedata.normalize("NFKD", sign).encode("ascii", "ignore").decode()
    return _PLAIN.get(sign) or near or "?"


def _plainly(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    return plain(error.object[error.start : error.end]), error.end
