"""What changes of known kind are taken for: faults of meters, use, water between zones, leaks.

    python -m pytest tests/benchmarks/test_bench_kinds.py --benchmark-only -n 0 -s

DISTRICT_BENCH_TRIALS says how many changes are drawn (102; 1,020 for the figures that count), of
which six in seventeen are leaks. A change that no event tells of is shown and not counted among
the named. A leak called something else is one without a warning unless its probability is a tenth
at least and the reason says so.
"""

from __future__ import annotations

import os
from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.detect.causes import NOT_RULED_OUT, PRIOR
from district.schema.event_tables import CAUSE_KINDS
from tests.benchmarks.kind_trials import LEAK_KINDS, NOT_TOLD, outcomes

TRIALS = int(os.environ.get("DISTRICT_BENCH_TRIALS", "102"))
FIRST_SEED = 10_000
LATE, EARLY = 29, 10
LEAST_RIGHT = {"meter_fault": 0.8, "use": 0.8, "boundary": 0.8}
MOST_MISSED_LEAKS = 0.05
BINS = (0.0, 0.5, 0.7, 0.85, 0.95, 1.0)
pytestmark = pytest.mark.benchmark(group="kinds")


def rightly(rows: pd.DataFrame) -> pd.Series:
    """Share named rightly by kind, a leak of either kind counting as one."""
    told = rows[rows["kind"] != NOT_TOLD]
    leak = told["truth"].isin(LEAK_KINDS) & told["kind"].isin(LEAK_KINDS)
    right = (told["truth"] == told["kind"]) | leak
    return right.groupby(told["truth"]).mean()


def missed_leaks(rows: pd.DataFrame) -> float:
    """Share of told leaks called something else without a warning."""
    leaks = rows[rows["truth"].isin(LEAK_KINDS) & (rows["kind"] != NOT_TOLD)]
    warned = (leaks["leak_share"] >= NOT_RULED_OUT) & leaks["warned"].astype(bool)
    return float((~leaks["kind"].isin(LEAK_KINDS) & ~warned).mean())


def calibration(rows: pd.DataFrame) -> pd.DataFrame:
    """How often the kind named is right, by the probability stated: as drawn, and with each kind as
    frequent as the prior says."""
    told = rows[rows["kind"] != NOT_TOLD]
    drawn = told["truth"].value_counts(normalize=True)
    weight = told["truth"].map(PRIOR) / told["truth"].map(drawn)
    part = pd.cut(told["kind_share"], BINS, include_lowest=True)
    right = (told["truth"] == told["kind"]).astype(float)
    lines = {}
    for stated, own in told.groupby(part, observed=True):
        w = weight[own.index]
        lines[str(stated)] = {
            "events": len(own),
            "stated": own["kind_share"].mean(),
            "right": right[own.index].mean(),
            "stated, as prior": np.average(own["kind_share"], weights=w),
            "right, as prior": np.average(right[own.index], weights=w),
        }
    return pd.DataFrame(lines).T


def test_changes_are_named_rightly_and_leaks_not_called_something_else(benchmark: Any) -> None:
    seeds = list(range(FIRST_SEED, FIRST_SEED + TRIALS))
    both = benchmark.pedantic(outcomes, args=(seeds, (EARLY, LATE)), rounds=1)
    columns = [*CAUSE_KINDS, NOT_TOLD]
    for nights in (EARLY, LATE):
        rows = both[both["nights_after"] == nights]
        print(f"\n{len(rows)} changes, named {nights} nights after their start")
        for truth in ("change", "truth"):
            print(pd.crosstab(rows[truth], rows["kind"]).reindex(columns=columns, fill_value=0))
        print("named rightly:", rightly(rows).round(3).to_dict())
        print(f"leaks called something else without a warning: {missed_leaks(rows):.3f}")
        print(calibration(rows).round(2).to_string())
    rows = both[both["nights_after"] == LATE]
    right = rightly(rows)
    benchmark.extra_info.update({k: round(float(s), 3) for k, s in right.items()})
    benchmark.extra_info["missed_leaks_share"] = round(missed_leaks(rows), 3)
    for kind, least in LEAST_RIGHT.items():
        assert right[kind] >= least, kind
    assert missed_leaks(rows) <= MOST_MISSED_LEAKS
