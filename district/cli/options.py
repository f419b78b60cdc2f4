"""What every command shares: its folder, its switches, how progress and errors are told."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import click
from rich.console import Console

from district.cli import machine
from district.errors import DistrictError

TO_ACT_ON = 3
FOLDER = click.argument("folder", type=click.Path(path_type=Path))
JSON = click.option("--json", "as_json", is_flag=True, help="Print one JSON object instead.")
OUT = click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    default=Path("maps"),
    show_default=True,
    help="Where the pages go.",
)


@contextmanager
def told(as_json: bool) -> Iterator[Callable[[str], None]]:
    """Show progress on a terminal; turn an error of ours into its lines and exit code."""
    console = Console(stderr=True)
    try:
        with console.status("starting") as status:
            yield lambda words: status.update(f"{words} ...")
    except DistrictError as error:
        if as_json:
            click.echo(machine.to_json({"error": list(error.lines())}))
        for line in error.lines():
            click.echo(line, err=True)
        sys.exit(error.exit_code)


def print_object(thing: Mapping[str, Any]) -> None:
    """Print one JSON object, piece by piece."""
    for piece in machine.pieces(thing):
        click.echo(piece, nl=False)
    click.echo()
