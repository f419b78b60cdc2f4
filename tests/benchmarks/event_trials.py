"""Events of drawn districts as they are told morning by morning, held against the truth."""

from __future__ import annotations

import os
from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context

import numpy as np
import pandas as pd

from district.detect import find_events
from district.schema.columns import empty
from district.schema.stored import ALARMS, NIGHT_FLOWS
from district.simulate import NightTrial, draw_night_trial
from district.simulate.night_trial import LEARNING_NIGHTS, NIGHTS_COUNT

PROCESSES = 2
FALSE_ALARMS_PER_YEAR = float(os.environ.get("DISTRICT_BENCH_RATE", "0.5"))
"""The stated rate: of nights that vary by chance alone, rises and falls together."""
_TOLD = ["cell_id", "kind", "seen", "heard", "start", "low", "high", "size_l_s", "again"]
EVERY_NIGHTS = 28


def listed(trial: NightTrial, last: int) -> pd.DataFrame:
    """Events told on the morning after night `last` (a position), by what was known then."""
    night = trial.axis[last]
    stated = {"false_alarms_per_year": FALSE_ALARMS_PER_YEAR}
    test = trial.settings.events.model_copy(update=stated)
    works = trial.works[trial.works["start"] < (night + pd.Timedelta(hours=6)).tz_localize("UTC")]
    events = find_events(
        trial.nights[trial.nights["night"] <= night],
        empty(NIGHT_FLOWS),
        network=trial.network,
        alarms=empty(ALARMS),
        works=works.reset_index(drop=True),
        settings=trial.settings.model_copy(update={"events": test}),
    ).events
    first = trial.axis[0]
    places = {
        name: (events[column] - first).dt.days
        for name, column in (
            ("heard", "detected"),
            ("start", "start"),
            ("low", "since_first"),
            ("high", "since_last"),
        )
    }
    return events[["cell_id", "state", "act", "kind", "size_l_s"]].assign(seen=last, **places)


def daily(trial: NightTrial, mornings: Iterable[int]) -> pd.DataFrame:
    """Events open and to act on, each as on the first of the mornings that told it.

    One row by zone and night heard. `again` where an event of the zone told before has limits of
    its start that overlap: to people it is the same.
    """
    return _first_told({last: listed(trial, last) for last in mornings})


def told(trial: NightTrial, first: int = LEARNING_NIGHTS) -> pd.DataFrame:
    """The same of every morning from `first` on, without looking at all of them.

    Every fourth week is looked at, and the morning after each night on which an event listed then,
    open or not, says it was heard.
    """
    end = len(trial.axis) - 1
    looked = {last: listed(trial, last) for last in {*range(first, end, EVERY_NIGHTS), end}}
    heard = {int(h) for events in looked.values() for h in events["heard"] if h >= first}
    looked |= {last: listed(trial, last) for last in heard - set(looked)}
    return _first_told(looked)


def _standing(events: pd.DataFrame) -> pd.DataFrame:
    return events[events["act"].astype(bool) & (events["state"] == "open")]


def _first_told(looked: dict[int, pd.DataFrame]) -> pd.DataFrame:
    known: dict[tuple[str, int], dict[str, object]] = {}
    spans: dict[str, list[tuple[int, int]]] = {}
    for last in sorted(looked):
        now: dict[str, list[tuple[int, int]]] = {}
        for row in _standing(looked[last]).sort_values("heard").to_dict("records"):
            span = (row["low"], row["high"])
            now.setdefault(row["cell_id"], []).append(span)
            if (row["cell_id"], row["heard"]) in known:
                continue
            before = spans.get(row["cell_id"], [])
            again = any(low <= span[1] and span[0] <= high for low, high in before)
            known[row["cell_id"], row["heard"]] = row | {"again": again}
        for cell_id, own in now.items():
            spans.setdefault(cell_id, []).extend(own)
    return pd.DataFrame(list(known.values()), columns=_TOLD)


def outcome(seed: int) -> pd.DataFrame:
    """A row a zone: its truth, false events (none counted where it leaks), and what was told of
    its leak."""
    trial = draw_night_trial(seed)
    events = told(trial)
    final = listed(trial, NIGHTS_COUNT - 1)
    rows = []
    for zone in trial.truth.to_dict("records"):
        own = events[(events["cell_id"] == zone["cell_id"]) & (events["heard"] >= LEARNING_NIGHTS)]
        row = zone | {"seed": seed, "false": 0 if zone["leak"] else int((~own["again"]).sum())}
        if zone["leak"]:
            row |= _of_leak(own, final[final["cell_id"] == zone["cell_id"]], zone["position"])
        rows.append(row)
    return pd.DataFrame(rows)


def _of_leak(own: pd.DataFrame, final: pd.DataFrame, position: int) -> dict[str, object]:
    """Nights to hear it (the first night counts), and how its start was dated, when first told and
    at the end of the record."""
    heard = own[own["heard"] >= position].sort_values("seen")
    if heard.empty:
        return {"nights": np.inf}
    first = heard.iloc[0]
    found: dict[str, object] = {
        "nights": float(first["seen"] - position + 1),
        "kind": first["kind"],
        "first_off": float(first["start"] - position),
        "first_held": bool(first["low"] <= position <= first["high"]),
    }
    after = final[final["heard"] >= position]
    if len(after):
        last = after.iloc[(after["start"] - position).abs().argmin()]
        found |= {
            "off": float(last["start"] - position),
            "held": bool(last["low"] <= position <= last["high"]),
            "size_share": float(last["size_l_s"]),
        }
    return found


def outcomes(seeds: list[int]) -> pd.DataFrame:
    """`outcome` of each seed, by two processes."""
    os.environ["OMP_NUM_THREADS"] = os.environ["OPENBLAS_NUM_THREADS"] = "1"
    with ProcessPoolExecutor(PROCESSES, mp_context=get_context("spawn")) as pool:
        return pd.concat(pool.map(outcome, seeds), ignore_index=True)


def seeds_for(first: int, leaks_count: int) -> list[int]:
    """Seeds from `first` on until so many zones leak, and as many do not."""
    seeds, leaking, quiet = [], 0, 0
    while min(leaking, quiet) < leaks_count:
        seed = first + len(seeds)
        leak = draw_night_trial(seed).truth["leak"] != ""
        leaking, quiet = leaking + int(leak.sum()), quiet + int((~leak).sum())
        seeds.append(seed)
    return seeds
