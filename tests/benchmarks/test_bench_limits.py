"""How often the truth of drawn districts lies inside its stated limits, and how wide they are.

    python -m pytest tests/benchmarks/test_bench_limits.py --benchmark-only -n 0 -s

Districts of 50 to 5,000 connections, every second one with pressure loggers, each with its own
true meters' errors, use, pressures and leaks, drawn from what the settings state of them.
DISTRICT_BENCH_TRIALS says how many (200).
"""

from __future__ import annotations

import os
from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.balance import district_balance
from district.simulate import Trial, draw_trial, limits_held, trial_limits

TRIALS = int(os.environ.get("DISTRICT_BENCH_TRIALS", "200"))
NIGHTS = 60
HELD_SHARE = (0.92, 0.98)
FIGURES = ("leakage_l_s", "leakage_m3_d")
pytestmark = pytest.mark.benchmark(group="stated limits")


def drawn(seed: int) -> Trial:
    rng = np.random.default_rng([20250303, seed])
    connections_count = round(float(np.exp(rng.uniform(np.log(50), np.log(5000)))))
    zones_count = int(np.clip(round(connections_count / rng.uniform(30, 400)), 1, 12))
    return draw_trial(
        seed,
        connections_count=connections_count,
        zones_count=zones_count,
        nights_count=NIGHTS,
        with_pressure=seed % 2 == 1,
        metered_share=float(rng.choice([0.0, 0.3, 0.9])),
    )


def recent_limits(trial: Trial, zones: pd.DataFrame, nights: pd.DataFrame) -> pd.DataFrame:
    """Table ZONES beside the median of the true leakage of the nights it rests on."""
    count = trial.settings.night.recent_nights
    used = trial_limits(trial, nights, figure="leakage_l_s").sort_values("night")
    truth = used.groupby("cell_id").tail(count).groupby("cell_id")["truth"].median()
    own = zones.set_index("cell_id").loc[truth.index]
    value, low, high = (own[f"leakage_l_s{s}"] for s in ("", "_low", "_high"))
    reach = np.where(truth >= value, high - value, value - low)
    return pd.DataFrame({"value": value, "low": low, "high": high, "at": (truth - value) / reach})


def yearly_limits(annual: pd.DataFrame, nights: pd.DataFrame) -> pd.DataFrame:
    """Real losses of table ANNUAL of each zone beside its true mean leakage, both ways."""
    truth = nights.groupby("cell_id")["truth"].mean() * 365.0
    lines = annual[annual["component"].str.contains("real losses")]
    lines = lines[lines["cell_id"].isin(truth.index)]
    own = truth.reindex(lines["cell_id"]).to_numpy()
    value, low, high = (lines[f"volume_m3{s}"] for s in ("", "_low", "_high"))
    reach = np.where(own >= value, high - value, value - low)
    return pd.DataFrame(
        {
            "component": lines["component"],
            "value": value,
            "low": low,
            "high": high,
            "at": (own - value) / reach,
        }
    )


def run() -> dict[str, pd.DataFrame]:
    found: dict[str, list[pd.DataFrame]] = {f: [] for f in (*FIGURES, "recent", "yearly")}
    for seed in range(TRIALS):
        trial = drawn(seed)
        balance = district_balance(
            trial.network, trial.reduced, settings=trial.settings, works=trial.works
        )
        loggers = "with loggers" if len(trial.network.sensors) else "without loggers"
        both = {f: trial_limits(trial, balance.nights, figure=f) for f in FIGURES}
        for figure, limits in both.items():
            found[figure].append(limits.assign(loggers=loggers))
        found["recent"].append(recent_limits(trial, balance.zones, balance.nights))
        found["yearly"].append(yearly_limits(balance.annual, both["leakage_m3_d"]))
    return {name: pd.concat(parts, ignore_index=True) for name, parts in found.items()}


def test_truth_within_its_limits(benchmark: Any) -> None:
    found = benchmark.pedantic(run, rounds=1)
    for figure in FIGURES:
        print(f"\n{figure}, {TRIALS} districts")
        for by in (None, ["size"], ["loggers"]):
            print(limits_held(found[figure], by=by).round(3).to_string())
    print("\nzones over their recent nights, against the true median")
    print(limits_held(found["recent"]).round(3).to_string())
    print("\nthe year's real losses of zones, against the true mean")
    print(limits_held(found["yearly"], by=["component"]).round(3).to_string())
    for figure in FIGURES:
        held = limits_held(found[figure]).iloc[0]
        benchmark.extra_info[f"{figure}_held_share"] = round(float(held["held_share"]), 3)
        benchmark.extra_info[f"{figure}_width_share"] = round(float(held["width_share"]), 3)
        assert HELD_SHARE[0] <= held["held_share"] <= HELD_SHARE[1]
