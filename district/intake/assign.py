"""Each layer given to the table it most likely holds, and its columns to the table's."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import PurePosixPath
from typing import Any

from district.intake.choice_words import understood
from district.intake.choices import unexplained
from district.intake.guess import LEAST, LIKELY, Likeness, how_like, name_likeness, sureness_of
from district.intake.guess_columns import as_texts, guess_columns
from district.intake.proposal import ColumnGuess, LayerGuess, LeftOut, Sureness
from district.intake.survey import LayerSample, all_values
from district.intake.unused import unused
from district.intake.vectors import SUFFIXES
from district.schema.columns import Table
from district.schema.inputs import LAYERS

_TABLES = {t.name: t for t in LAYERS}
_ORDER = {name: n for n, name in enumerate(_TABLES)}
Ids = Mapping[str, frozenset[str]]
"""Table -> every id of it."""


@dataclass(frozen=True, eq=False)
class _Fit:
    sample: LayerSample
    like: Likeness
    second: float


def assign_layers(
    samples: Iterable[LayerSample], read_ids: frozenset[str]
) -> tuple[tuple[LayerGuess, ...], list[LeftOut]]:
    """Each table its one layer and each layer its one table, best fits first; and what is left.

    `read_ids` are words in the reading files that may be ids of meters and sensors.
    """
    fits: list[_Fit] = []
    left: list[LeftOut] = []
    for sample in samples:
        found = [
            how_like(
                table,
                sample.frame,
                name=_name(sample),
                around=_around(sample),
                read_ids=read_ids,
                drawn_m=sample.drawn_m,
            )
            for table in LAYERS
            if table.geometry == sample.geometry
        ]
        scores = sorted((like.score for like in found), reverse=True)
        for like in found:
            second = max((o.score for o in found if o is not like), default=0.0)
            if like.score >= LEAST:
                fits.append(_Fit(sample, like, second))
        if not scores or scores[0] < LEAST:
            left.append(LeftOut(_shown(sample), _unlike(sample)))
    chosen: dict[str, LayerGuess] = {}
    taken: dict[str, str] = {}
    rivals: dict[str, list[str]] = {}
    for fit in sorted(fits, key=_best_first):
        name, shown = fit.like.table, _shown(fit.sample)
        if shown in taken:
            continue
        if name in chosen:
            if fit.like.score >= LIKELY and fit.like.score >= fit.second:
                rivals.setdefault(name, []).append(shown)
            continue
        chosen[name] = _guess(fit)
        taken[shown] = name
    for name, others in rivals.items():
        others = [o for o in dict.fromkeys(others) if o not in taken]
        if others:
            sureness: Sureness = "unsure" if chosen[name].sureness == "unsure" else "likely"
            chosen[name] = replace(chosen[name], rivals=tuple(others), sureness=sureness)
            left += [LeftOut(o, f"it looks like {name} too") for o in others]
    known = {one.file for one in left} | set(taken)
    left += [
        LeftOut(shown, "what it most looks like was found elsewhere")
        for shown in dict.fromkeys(_shown(f.sample) for f in fits)
        if shown not in known
    ]
    return tuple(sorted(chosen.values(), key=lambda g: _ORDER[g.table])), left


def _best_first(fit: _Fit) -> tuple[float, int, str]:
    suffix = fit.sample.path.suffix.lower()
    return (-round(fit.like.score, 1), SUFFIXES.index(suffix), _shown(fit.sample))


def _guess(fit: _Fit) -> LayerGuess:
    sample, like = fit.sample, fit.like
    return LayerGuess(
        like.table,
        sample.file,
        sample.layer if sample.several else "",
        sureness_of((like.score, fit.second)),
        like.why,
        like.columns,
        lacking(_TABLES[like.table], like.columns),
        placed=sample.placed,
    )


def lacking(table: Table, columns: Iterable[ColumnGuess]) -> tuple[str, ...]:
    """Required columns that were not found."""
    return table.lacking(["geometry", *(c.ours for c in columns)])


def _name(sample: LayerSample) -> str:
    stem = sample.path.stem
    return sample.layer if sample.several or sample.layer == stem else f"{stem} {sample.layer}"


def _around(sample: LayerSample) -> str:
    inner = PurePosixPath(sample.file)
    return " ".join(inner.with_suffix("").parts if sample.several else inner.parent.parts)


def _shown(sample: LayerSample) -> str:
    return f"{sample.file}, layer {sample.layer}" if sample.several else sample.file


def _unlike(sample: LayerSample) -> str:
    what = {"Point": "points", "LineString": "lines", "Polygon": "areas"}.get(sample.geometry)
    if not what:
        return "its features have no geometry of use"
    other = next((w for s, w in name_likeness(_name(sample)).values() if s < 0), "")
    if other:
        return f'its name says "{other}", which is not looked for'
    return f"{what} whose name and columns speak of nothing that is looked for"


def _sample_of(guess: LayerGuess, samples: Iterable[LayerSample]) -> LayerSample:
    return next(
        s
        for s in samples
        if s.file == guess.file and guess.layer in (s.layer if s.several else "",)
    )


def ids_of(guess: LayerGuess, samples: list[LayerSample]) -> frozenset[str]:
    """Every id of the layer, not of its first rows alone."""
    key = _TABLES[guess.table].key[0]
    theirs = next((c.theirs for c in guess.columns if c.ours == key), None)
    if theirs is None:
        return frozenset()
    return frozenset(as_texts(all_values(_sample_of(guess, samples), theirs)))


def with_references(
    guess: LayerGuess,
    samples: list[LayerSample],
    ids: Mapping[str, frozenset[str]],
    read_ids: frozenset[str],
) -> LayerGuess:
    """The guess with its columns guessed anew, now that ids of the other layers are known."""
    table, sample = _TABLES[guess.table], _sample_of(guess, samples)
    zones, meters = ids.get("zones", frozenset()), ids.get("meters", frozenset())
    known = {
        "meters": {"downstream": zones, "meter_id": read_ids},
        "sensors": {"sensor_id": read_ids},
        "zones": {"parent_id": zones},
        "connections": {"meter_id": meters},
    }.get(table.name, {})
    columns = guess_columns(table, sample.frame, ids=known, drawn_m=sample.drawn_m)
    columns = tuple(_with_all_codes(c, table, sample) for c in columns)
    return replace(
        guess,
        columns=columns,
        lacking=lacking(table, columns),
        unused=unused(sample.frame.columns, columns, own=table.names()),
    )


def _with_all_codes(column: ColumnGuess, table: Table, sample: LayerSample) -> ColumnGuess:
    """The guess with what is not understood in the whole layer, not in its first rows alone."""
    if not table[column.ours].choices:
        return column
    values = all_values(sample, column.theirs)
    return replace(column, unread=tuple(unexplained(table, column.ours, values)))


def devices_of(layers: Iterable[LayerGuess], samples: list[LayerSample]) -> dict[str, str]:
    """Meter and sensor ids -> what each reports, '' where nothing says it."""
    devices: dict[str, str] = {}
    for guess in layers:
        if guess.table not in ("meters", "sensors"):
            continue
        theirs = {c.ours: c.theirs for c in guess.columns}
        key = _TABLES[guess.table].key[0]
        if key not in theirs:
            continue
        sample = _sample_of(guess, samples)
        names: Any = as_texts(all_values(sample, theirs[key]))
        if "kind" in theirs:
            kinds = as_texts(all_values(sample, theirs["kind"])).reindex(names.index).fillna("")
            ours = [understood(guess.table, "kind", k) or k for k in kinds]
            devices.update(zip(names, ours, strict=True))
        else:
            devices.update(dict.fromkeys(names, "" if guess.table == "meters" else "sensor"))
    return devices
