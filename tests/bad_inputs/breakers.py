"""Ways to break the small folder: texts, bytes, tables, features, whole files."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, NamedTuple

import pandas as pd

from tests.bad_inputs.small_folder import SETTINGS, feature, read_layer, write_layer

Breaker = Callable[[Path], object]
Place = tuple[float, float]


class Case(NamedTuple):
    """A broken folder, and all that `check` must say of the broken file.

    `sentences` are all of that file (as findings name it), worst first; the small folder's own,
    that its record is short, are not among them. With `errors` the exit code is 2, else 3.
    """

    name: str
    breaker: Breaker
    file: str
    sentences: tuple[str, ...]
    errors: bool = True


def text(file: str, said: str, encoding: str = "utf-8") -> Breaker:
    """A file that holds this text alone."""
    return raw(file, said.encode(encoding))


def raw(file: str, said: bytes) -> Breaker:
    """A file that holds these bytes alone."""

    def write(folder: Path) -> None:
        (folder / file).write_bytes(said)

    return write


def more(said: str) -> Breaker:
    """The sound settings and these lines."""
    return text("district.toml", SETTINGS + said)


def replaced(file: str, old: str, new: str, count: int = 1) -> Breaker:
    """A text in a file made another."""

    def write(folder: Path) -> None:
        said = (folder / file).read_text(encoding="utf-8")
        assert old in said
        (folder / file).write_text(said.replace(old, new, count), encoding="utf-8")

    return write


def features(layer: str, change: Callable[[list[dict[str, Any]]], Any]) -> Breaker:
    """The features of a layer changed in place."""

    def write(folder: Path) -> None:
        found = read_layer(folder, layer)
        change(found)
        write_layer(folder, layer, found)

    return write


def value(layer: str, at: int, column: str, said: Any) -> Breaker:
    """One value of a layer made another."""
    return features(layer, lambda found: found[at]["properties"].update({column: said}))


def added(layer: str, kind: str, places: Any, **columns: Any) -> Breaker:
    """One more feature."""
    return features(layer, lambda found: found.append(feature(kind, places, **columns)))


def drawn(layer: str, at: int, kind: str, places: Any) -> Breaker:
    """A feature drawn otherwise."""
    geometry = feature(kind, places)["geometry"]
    return features(layer, lambda found: found[at].update(geometry=geometry))


def every_point(layer: str, change: Callable[[float, float], Sequence[Any]]) -> Breaker:
    """Every place of a layer of points moved."""

    def move(found: list[dict[str, Any]]) -> None:
        for one in found:
            one["geometry"]["coordinates"] = change(*one["geometry"]["coordinates"])

    return features(layer, move)


def both(*breakers: Breaker) -> Breaker:
    """One after the other."""

    def write(folder: Path) -> None:
        for breaker in breakers:
            breaker(folder)

    return write


def table(file: str, change: Callable[[pd.DataFrame], pd.DataFrame]) -> Breaker:
    """A CSV of texts changed as a table."""

    def write(folder: Path) -> None:
        said = pd.read_csv(folder / file, dtype=str)
        change(said).to_csv(folder / file, index=False)

    return write


def in_place_of(file: str, other: str, make: Callable[[pd.DataFrame, Path], None]) -> Breaker:
    """A reading file given as another kind of file, and named so in the settings.

    `make` is given the table and the path to write it to.
    """

    def write(folder: Path) -> None:
        said = pd.read_csv(folder / file, dtype=str)
        make(said, folder / other)
        (folder / file).unlink()
        replaced("district.toml", file, other)(folder)

    return write


def gone(file: str) -> Breaker:
    """A file that is not there."""
    return lambda folder: (folder / file).unlink()


def cut(file: str, share: float) -> Breaker:
    """Only the first part of a file, as of a copy that broke off."""

    def write(folder: Path) -> None:
        said = (folder / file).read_bytes()
        (folder / file).write_bytes(said[: int(len(said) * share)])

    return write
