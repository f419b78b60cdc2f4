"""The `district` command: parse, call, print, exit."""

from district.cli.commands import main

__all__ = ["main"]
