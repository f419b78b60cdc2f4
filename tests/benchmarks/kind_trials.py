"""Changes of known kind between two zones, named by `detect.find_events`, beside the truth."""

from __future__ import annotations

import os
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from typing import Any

import pandas as pd

from district.detect import find_events
from district.schema.columns import empty
from district.schema.event_tables import CAUSE_KINDS
from district.schema.stored import ALARMS, NIGHT_FLOWS
from district.simulate import KindTrial, draw_kind_trial

PROCESSES = 2
NOT_TOLD = "not told"
LEAK_KINDS = ("leak", "growing_leak")
_NEAR = pd.Timedelta(days=3)


def named(trial: KindTrial, nights_after: int) -> dict[str, Any]:
    """What the change is taken for so many nights after its start: the zone's event whose start
    comes nearest, its limits stretched by three nights; its kind and the probability of each."""
    last = trial.start + pd.Timedelta(days=nights_after)
    found = find_events(
        trial.nights[trial.nights["night"] <= last],
        empty(NIGHT_FLOWS),
        network=trial.network,
        alarms=empty(ALARMS),
        works=trial.works,
        settings=trial.settings,
        hourly=trial.hourly[trial.hourly["day"] < last],
    )
    events = found.events
    own = events[
        (events["place_id"] == trial.cell_id)
        & (events["start_low"] - _NEAR <= trial.start)
        & (events["start_high"] + _NEAR >= trial.start)
    ]
    row: dict[str, Any] = {"change": trial.change, "truth": trial.kind, "kind": NOT_TOLD}
    if own.empty:
        return row
    event = own.loc[(own["start"] - trial.start).abs().idxmin()]
    causes = found.causes[found.causes["event_id"] == event["event_id"]]
    shares = causes.set_index("kind")["probability_share"].reindex(
        list(CAUSE_KINDS), fill_value=0.0
    )
    return row | {
        "kind": event["kind"],
        "kind_share": float(event["kind_share"]),
        "leak_share": float(shares[list(LEAK_KINDS)].sum()),
        "warned": bool("leak is not ruled out" in event["reason"]),
        "act": bool(event["act"]),
        **{f"p_{kind}": float(share) for kind, share in shares.items()},
    }


def outcome(seed: int, nights_after: tuple[int, ...]) -> list[dict[str, Any]]:
    """A row for each number of nights after the start."""
    trial = draw_kind_trial(seed)
    return [named(trial, n) | {"seed": seed, "nights_after": n} for n in nights_after]


def _outcome(both: tuple[int, tuple[int, ...]]) -> list[dict[str, Any]]:
    return outcome(*both)


def outcomes(seeds: list[int], nights_after: tuple[int, ...]) -> pd.DataFrame:
    """`outcome` of each seed, by two processes."""
    os.environ["OMP_NUM_THREADS"] = os.environ["OPENBLAS_NUM_THREADS"] = "1"
    with ProcessPoolExecutor(PROCESSES, mp_context=get_context("spawn")) as pool:
        parts = pool.map(_outcome, [(s, nights_after) for s in seeds], chunksize=8)
        return pd.DataFrame([row for part in parts for row in part])
