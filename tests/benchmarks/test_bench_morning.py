"""One morning's run over many zones and twenty times as many building meters.

    OMP_NUM_THREADS=1 DISTRICT_BENCH_ZONES=1000 DISTRICT_BENCH_DAYS=730 \\
        python -m pytest tests/benchmarks/test_bench_morning.py --benchmark-only -n 0 -s

Zone meters by the quarter of an hour, building meters by the hour, some loggers, wet floors and
works. `DISTRICT_BENCH_ZONES` sets the number of zones (5 without it), `DISTRICT_BENCH_DAYS` the
days in the store before the morning (60): a thousand zones and two years are 420 million rows and
the first take-in, untimed, is some twenty minutes. The morning is what a scheduler runs, a process
of its own from the start of Python to its exit, with one new day's file; what each stage takes is
told by what the run says of itself. A day of a month that is nearly over costs the most, since
reductions are made anew by month. The reference is a plain query over
one month of the files as they were given: the volume of each meter by day.

Seconds are the processor's, since the machine may be busy with other work.
"""

from __future__ import annotations

import json
import os
import sys
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from tests.benchmarks.many_zones import BEGAN, BUILDINGS, make, write_days
from tests.benchmarks.test_bench_balance import measured

ZONES = int(os.environ.get("DISTRICT_BENCH_ZONES", "5"))
DAYS = int(os.environ.get("DISTRICT_BENCH_DAYS", "60"))
FULL_ZONES, FULL_DAYS, MOST_S = 1000, 730, 60
MOST_MB = 6144
DAILY = """
import sys, duckdb
with duckdb.connect(config={"threads": 1, "memory_limit": "2GB"}) as connection:
    found = connection.execute(
        "SELECT device_id, time::DATE AS day, max(value) - min(value) AS volume_m3 "
        "FROM read_parquet(?) GROUP BY ALL", [sys.argv[1]]
    ).df()
    assert len(found) > int(sys.argv[2])
"""
STAGES = """
import json, sys, time
from pathlib import Path
from district import pipeline, watching
told = [("start of Python", time.process_time())]
def say(words):
    told.append((words, time.process_time()))
folder, out = Path(sys.argv[1]), Path(sys.argv[2])
with watching.alone(folder, say=say):
    found = pipeline.watch_folder(folder, out, say=say)
    watching.remember(found)
ends = [at for _, at in told[1:]] + [time.process_time()]
began = [0.0] + [at for _, at in told[1:]]
stages = [[name, round(end - at, 2)] for (name, _), at, end in zip(told, began, ends)]
Path(sys.argv[3]).write_text(json.dumps(stages))
"""
pytestmark = pytest.mark.benchmark(group="morning")


def test_one_morning(benchmark: Any, tmp_path: Path) -> None:
    folder, out = tmp_path / "many", tmp_path / "out"
    make(folder, ZONES, DAYS)
    watch = [sys.executable, "-m", "district", "watch", str(folder), "--out", str(out)]
    first = measured(watch)
    write_days(folder, ZONES, BEGAN + timedelta(days=DAYS), BEGAN + timedelta(days=DAYS + 1))
    month = str(folder / f"readings/{BEGAN}.parquet")
    bare = measured([sys.executable, "-c", DAILY, month, str(ZONES * BUILDINGS)])
    told = tmp_path / "stages.json"
    staged = [sys.executable, "-c", STAGES, str(folder), str(out), str(told)]
    morning = benchmark.pedantic(lambda: measured(staged), rounds=1, iterations=1)
    stages = json.loads(told.read_text())
    again = measured(watch)
    benchmark.extra_info |= {
        "zones": ZONES,
        "building_meters": ZONES * BUILDINGS,
        "days": DAYS,
        "times_reference": round(morning["processor_s"] / max(bare["processor_s"], 0.1), 2),
        "first": first,
        "morning": morning,
        "again": again,
        "stages_s": dict(stages),
        "reference": bare,
    }
    for name, seconds in stages:
        print(f"{seconds:8.2f} s  {name}")
    print(benchmark.extra_info)
    # What was taken in before is not taken in again.
    assert morning["processor_s"] < max(first["processor_s"], 2 * again["processor_s"])
    assert morning["peak_mb"] < MOST_MB
    if ZONES >= FULL_ZONES and DAYS >= FULL_DAYS:
        assert morning["processor_s"] < MOST_S
