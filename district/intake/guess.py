"""Which of our tables a layer holds: by geometry, names and columns."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import pandas as pd

from district.intake.column_words import is_any_id, likeness
from district.intake.guess_columns import guess_columns, is_key, share_among
from district.intake.proposal import ColumnGuess, Sureness
from district.intake.trade_words import OTHER_NETWORKS, OTHER_THINGS, TABLE_WORDS, parts, words
from district.schema.columns import Table

TELLING: dict[str, dict[str, float]] = {
    "pipes": {"diameter_mm": 0.4, "material": 0.4, "installed_year": 0.2, "roughness": 0.4},
    "valves": {"state": 0.2, "operable": 0.3, "setting_m": 0.3},
    "meters": {
        "role": 0.1,
        "downstream": 0.2,
        "reading_unit": 0.2,
        "litres_per_pulse": 0.4,
        "register_digits": 0.4,
        "resolution_l": 0.2,
    },
    "zones": {"name": 0.1, "parent_id": 0.3},
    "connections": {
        "properties": 0.4,
        "use_class": 0.2,
        "critical": 0.2,
        "meter_id": 0.2,
        "private_pipe_m": 0.4,
    },
    "sensors": {"reading_unit": 0.2, "building_id": 0.1, "surface_m2": 0.1},
    "sources": {"head_m": 0.4},
    "works": {"start": 0.3, "end": 0.2, "place_id": 0.4, "kind": 0.1},
    "breaks": {"date": 0.3, "pipe_id": 0.4, "longitude_deg": 0.1, "latitude_deg": 0.1},
    "surveys": {"date": 0.2, "pipe_id": 0.3, "detection_share": 0.4, "from_m": 0.1, "to_m": 0.1},
    "step_tests": {"test_id": 0.3, "time": 0.2, "valve_id": 0.4, "flow_l_s": 0.2},
    "correlations": {"first_id": 0.3, "other_id": 0.3, "delay_ms": 0.5, "wave_speed_m_s": 0.3},
    "sightings": {"time": 0.2, "place_id": 0.2, "longitude_deg": 0.2, "latitude_deg": 0.2},
}
"""How much a column of that table speaks for it."""
_CHOICES_TELL = 0.5
_KEY_TELLS = {1.0: 0.6, 0.8: 0.35}
_READ_TELLS = 0.9
_CHIEF, _BESIDE, _FOLDER, _OTHER = 1.0, 0.6, 0.5, -1.5
_SURE, LIKELY, LEAST = 1.3, 0.7, 0.3
"""From these scores on a fit is sure, likely, or worth saying."""
_CLOSE = 0.3


@dataclass(frozen=True)
class Likeness:
    """How well a layer fits one table, and why."""

    table: str
    score: float
    why: str
    columns: tuple[ColumnGuess, ...]


def name_likeness(name: str, *, around: str = "") -> dict[str, tuple[float, str]]:
    """Table -> how much a layer's name speaks for it, and the word that does.

    The last word of the trade in a name is the chief one: zone meters are meters. `around` is
    the name of the file and folders it stands in, heard only where the name itself says nothing.

    >>> name_likeness("zone_meters")["meters"]
    (1.0, 'meter')
    """
    scores = _named(parts(name))
    if not scores and around:
        scores = {t: (min(s, _FOLDER), w) for t, (s, w) in _named(parts(around)).items()}
    return scores


def _named(said: tuple[str, ...]) -> dict[str, tuple[float, str]]:
    tables = [t for t in TABLE_WORDS if t != "readings"]
    hits = [(n, t, w) for n, w in enumerate(said) for t in tables if _means(w, t)]
    alien = [n for n, w in enumerate(said) if w in OTHER_THINGS]
    last = max([n for n, _, _ in hits] + alien, default=-1)
    scores: dict[str, tuple[float, str]] = {}
    for n, table, word in hits:
        scores[table] = max(scores.get(table, (0.0, "")), (_CHIEF if n == last else _BESIDE, word))
    other = [w for w in said if w in OTHER_NETWORKS] or [w for n, w in enumerate(said) if n == last]
    if any(w in OTHER_NETWORKS for w in said) or last in alien:
        scores = dict.fromkeys(tables, (_OTHER, other[0]))
    return scores


def _means(word: str, table: str) -> bool:
    trade = TABLE_WORDS[table]
    if word in trade or not {*words(word)}.isdisjoint(trade):
        return True
    return any(len(known) >= 5 and known in word for known in trade)


def how_like(
    table: Table,
    frame: pd.DataFrame,
    *,
    name: str,
    around: str = "",
    read_ids: frozenset[str] = frozenset(),
    drawn_m: Any = None,
) -> Likeness:
    """How well a layer's name and first rows fit a table; its geometry is taken to fit.

    `read_ids` are words in the reading files that may be ids of meters and sensors.
    """
    score, why = 0.0, []
    named, word = name_likeness(name, around=around).get(table.name, (0.0, ""))
    if named:
        score += named
        why.append(f'its name says "{word}"')
    own_ids: Mapping[str, frozenset[str]] = (
        {table.key[0]: read_ids} if table.name in ("meters", "sensors") else {}
    )
    columns = guess_columns(table, frame, ids=own_ids, drawn_m=drawn_m)
    telling = []
    for guess in columns:
        worth = _worth(table, guess, frame)
        if worth:
            score += worth
            telling.append(guess.theirs)
    if telling:
        why.append(f"columns {', '.join(telling)}")
    if table.key and own_ids:
        key = next((c for c in columns if c.ours == table.key[0]), None)
        if key is not None and share_among(frame[key.theirs], read_ids) >= 0.5:
            score += _READ_TELLS
            why.append(f"readings come under its {key.theirs}")
    return Likeness(table.name, score, "; ".join(why), columns)


def _worth(table: Table, guess: ColumnGuess, frame: pd.DataFrame) -> float:
    alike = likeness(table.name, guess.ours, guess.theirs)
    if guess.ours in table.key:
        special = alike == 1.0 or not is_any_id(guess.theirs)
        special = special and alike >= 0.8 and is_key(frame[guess.theirs])
        return next((v for least, v in _KEY_TELLS.items() if special and alike >= least), 0.0)
    column = table[guess.ours]
    if column.choices and not guess.remark:
        return _CHOICES_TELL
    worth = TELLING.get(table.name, {}).get(guess.ours, 0.0)
    return worth if guess.sureness != "unsure" or column.choices else worth / 2


def sureness_of(scores: tuple[float, float]) -> Sureness:
    """How sure a fit is, by its score and the next best of another table."""
    best, second = scores
    close = best - second < _CLOSE
    if best >= _SURE:
        return "likely" if close else "sure"
    return "likely" if best >= LIKELY and not close else "unsure"
