"""A commented `district.toml` from what was guessed, or what one that exists lacks."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from glob import escape
from pathlib import Path
from typing import Any

from district.intake.proposal import EMPTY, LayerGuess, Proposal, ReadingsGuess
from district.intake.sections import layer_section, no_layer, no_readings, readings_section
from district.intake.settings_lines import district_lines, section_lines, toml_value, top_lines
from district.intake.sources import find_readings
from district.schema.entry_forms import ENTRY_FORM
from district.schema.inputs import LAYERS, NEEDED_LAYERS, RECORDS
from district.settings import FILE, Settings, read_settings
from district.words import listed

_HEAD = """\
# Settings of this district, drafted by 'district init' from what the folder holds.
# A line that begins with '#' and no blank is a setting that is off, with its default or a guess:
# remove the '#' to switch it on. 'sure', 'likely' and 'unsure' say how good a guess is; what is
# unsure is off. Running 'district init' again adds what is new and changes no line."""


@dataclass(frozen=True)
class Draft:
    """What `district.toml` is to become."""

    proposal: Proposal
    path: Path
    text: str
    """The whole file; empty if nothing is to be written."""
    added: str
    """The sections that are new, as text; empty if there is nothing to add."""
    by_hand: bool
    """The file is written in a way that nothing can be added at its end: a person must."""
    to_fill_in: tuple[str, ...]
    """What a person must still say, one sentence each."""


def draft(proposal: Proposal) -> Draft:
    """The settings file for what was guessed; nothing is written here.

    Where the folder has a `district.toml`, its every byte is kept, and sections for layers,
    records and reading files it does not name are added at its end. Raises `InputError` if it
    cannot be read as settings.
    """
    path = proposal.folder / FILE
    settings = read_settings(proposal.folder)
    if not path.exists():
        text = _fresh(proposal)
        return Draft(proposal, path, text, text, False, _to_fill_in(proposal, settings))
    before = path.read_bytes().decode("utf-8")
    added = "\n".join(_sections(_unnamed(proposal, settings, before)))
    if not added:
        return Draft(proposal, path, "", "", False, _to_fill_in(proposal, settings))
    end = "\r\n" if "\r\n" in before else "\n"
    gap = end if before.endswith(("\n", "\r")) or not before else 2 * end
    text = before + gap + f"{added}\n".replace("\n", end)
    fits = _keeps(before, text)
    to_fill_in = _to_fill_in(proposal, settings)
    return Draft(proposal, path, text if fits else "", added, not fits, to_fill_in)


def _fresh(proposal: Proposal) -> str:
    name = proposal.folder.resolve().name or "District"
    clock = 'fill in yours, such as "Europe/London"; nothing in the files tells it'
    lines = [_HEAD, "", *top_lines(), "", *district_lines(name, timezone_remark=clock)]
    lines += ["", *_sections(proposal)]
    found = proposal.tables()
    for table in (*LAYERS, *RECORDS, ENTRY_FORM):
        if table.name not in found:
            lines += ["", *no_layer(table, needed=table.name in NEEDED_LAYERS)]
    if not proposal.readings:
        lines += ["", *no_readings()]
    lines += ["", *section_lines()]
    return "\n".join(lines) + "\n"


def _sections(proposal: Proposal) -> list[str]:
    lines: list[str] = []
    for guess in (*proposal.layers, *proposal.records):
        lines += ["", *layer_section(guess)]
    # What is on stands first, that nobody takes its columns for those of a section that is off.
    for kind in sorted(proposal.readings, key=lambda k: k.sureness == "unsure"):
        lines += ["", *readings_section(kind)]
    return lines[1:]


def _unnamed(proposal: Proposal, settings: Settings, text: str) -> Proposal:
    """The guesses about what the settings say nothing of, on or off."""
    matched = (
        {
            path.relative_to(proposal.folder).as_posix()
            for _, paths in find_readings(proposal.folder, settings)
            for path in paths
            if path.is_relative_to(proposal.folder)
        }
        if settings.readings
        else set()
    )
    return replace(
        proposal,
        layers=_not_in(proposal.layers, "layers", settings.layers, text),
        records=_not_in(proposal.records, "records", settings.records, text),
        readings=tuple(new for k in proposal.readings for new in _new(k, matched, text)),
    )


def _not_in(
    guesses: Iterable[LayerGuess], section: str, named: Mapping[str, Any], text: str
) -> tuple[LayerGuess, ...]:
    def off(guess: LayerGuess) -> bool:
        head = rf"#\s*\[{section}\.{guess.table}\][^\n]*\n"
        file = re.escape(f"file = {toml_value(guess.file)}")
        return re.search(rf"{head}(?:#[^\n]*\n)*?#\s*{file}", text) is not None

    return tuple(g for g in guesses if g.table not in named and not off(g))


def _new(kind: ReadingsGuess, matched: set[str], text: str) -> list[ReadingsGuess]:
    """The kind, or those of its files that no pattern finds; nothing if the text names it."""
    if not matched.intersection(kind.files):
        kinds = [kind]
    else:
        files = [f for f in kind.files if f not in matched]
        kinds = [replace(kind, pattern=escape(f), files=(f,)) for f in files]
    return [k for k in kinds if f"files = {toml_value(k.pattern)}" not in text]


def _keeps(before: str, after: str) -> bool:
    """Whether the longer file says all that the shorter says."""
    old = tomllib.loads(before.removeprefix("\ufeff"))
    try:
        new = tomllib.loads(after.removeprefix("\ufeff"))
    except tomllib.TOMLDecodeError:
        return False
    return _within(old, new)


def _within(old: Any, new: Any) -> bool:
    if isinstance(old, dict) and isinstance(new, dict):
        return all(key in new and _within(value, new[key]) for key, value in old.items())
    if isinstance(old, list) and isinstance(new, list):
        return new[: len(old)] == old
    return bool(old == new)


def _to_fill_in(proposal: Proposal, settings: Settings) -> tuple[str, ...]:
    said = []
    zoned = all(k.timezone for k in proposal.readings)
    if "timezone" not in settings.district.model_fields_set and not zoned:
        said.append(
            "timezone under [district]: the clock of the readings; UTC is taken until you say it"
        )
    found = {g.table: g for g in (*proposal.layers, *proposal.records)}
    for name in NEEDED_LAYERS:
        if name not in found and name not in settings.layers:
            said.append(f"[layers.{name}]: no file was found for it, and it is needed")
    for guess in found.values():
        section = "layers" if guess in proposal.layers else "records"
        named = (settings.layers if section == "layers" else settings.records).get(guess.table)
        if guess.sureness == "unsure" and named is None:
            said.append(f"[{section}.{guess.table}]: whether {_where(guess)} is right")
            continue
        if not (guess.placed or (named and named.crs)):
            said.append(f"crs under [{section}.{guess.table}]: {guess.file} states none")
        has = set(named.columns) if named else set()
        columns = {c.ours: c for c in guess.columns}
        for ours in guess.lacking:
            if ours not in has:
                said.append(f"{ours} under [{section}.{guess.table}.columns]: which column it is")
        for ours, column in columns.items():
            if ours in has or column.remark == EMPTY:
                continue
            if column.remark:
                said.append(f"{ours} of {guess.file}: {column.remark}")
            elif column.unread and not (named and ours in named.values):
                codes = listed(f'"{text}"' for text in column.unread)
                where = f"[{section}.{guess.table}.values.{ours}]"
                mean = "means" if len(column.unread) == 1 else "mean"
                said.append(f"{ours} of {guess.file}: what {codes} {mean}, under {where}")
            elif column.sureness == "unsure":
                unit = f" in {column.unit}" if column.unit else ""
                said.append(f'{ours} of {guess.file}: whether it is "{column.theirs}"{unit}')
    said += [f"kind of meter {kind.doubt}" for kind in proposal.readings if kind.doubt]
    said += [
        f'[[readings]] of "{kind.pattern}": {kind.why}'
        for kind in proposal.readings
        if kind.sureness == "unsure" and not _is_on(kind, settings)
    ]
    return tuple(said)


def _where(guess: LayerGuess) -> str:
    return f"{guess.file}, layer {guess.layer}" if guess.layer else guess.file


def _is_on(kind: ReadingsGuess, settings: Settings) -> bool:
    return any(kind.pattern == said.files for said in settings.readings)
