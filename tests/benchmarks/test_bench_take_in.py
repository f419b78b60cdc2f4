"""A morning's file taken in, beside the first take-in of all that came before it, per row.

    python -m pytest tests/benchmarks/test_bench_take_in.py --benchmark-only -n 0 -s

Hourly registers of many customer meters, a Parquet file a month, then one file of the day after.
`DISTRICT_BENCH_METERS` and `DISTRICT_BENCH_MONTHS` set the size. Measured is processor time of
taking in alone, without layers, network and reductions, in processes of their own.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
from pathlib import Path
from typing import Any

import duckdb
import pytest

from tests.bad_inputs.small_folder import feature, make_folder, read_layer, write_layer

METERS = int(os.environ.get("DISTRICT_BENCH_METERS", "300"))
MONTHS = int(os.environ.get("DISTRICT_BENCH_MONTHS", "3"))
MOST_MB = 3000
_TAKE_IN = """
import sys
import time
from pathlib import Path
from district import ingest, intake, store
from district.settings import read_settings
folder = Path(sys.argv[1])
settings = read_settings(folder)
inputs = intake.read_layers(folder, settings)
place = store.place(folder)
began = time.process_time()
kept = store.read_manifest(place)
files = intake.reading_files(folder, settings)
looks = store.looks(files, folder, kept.seen if kept else {})
ingest.take_in(folder, settings, inputs, place, fingerprint="", say=lambda _: None,
    digests={p: look.digest for p, look in looks.items()}, seen=store.seen(looks, folder))
print(time.process_time() - began)
"""
pytestmark = pytest.mark.benchmark(group="take in")


def write(folder: Path, name: str, first: str, days: int) -> int:
    """A file of all meters' hours; how many rows."""
    query = f"""
        COPY (
            SELECT 'R' || m AS device_id, TIMESTAMP '{first}' + to_hours(h) AS time,
                round(date_diff('hour', TIMESTAMP '2024-01-01', TIMESTAMP '{first}') * (0.005
                    + m % 7 * 0.001) + h * (0.005 + m % 7 * 0.001) + 0.002 * sin(h * 0.7 + m), 3)
                    + 10 AS value
            FROM range({24 * days}) hours(h), range({METERS}) meters(m)
        ) TO '{folder / "readings" / name}' (FORMAT parquet)
    """
    with duckdb.connect(config={"threads": 1, "memory_limit": "1GB"}) as connection:
        connection.execute(query)
    return 24 * days * METERS


def make(folder: Path) -> int:
    """The small folder with many more meters and their months; how many rows."""
    make_folder(folder)
    meters = read_layer(folder, "meters")
    meters += [
        feature("Point", (7.002, 47.001), meter_id=f"R{m}", role="customer", kind="register")
        for m in range(METERS)
    ]
    write_layer(folder, "meters", meters)
    with (folder / "district.toml").open("a") as settings:
        settings.write('\n[[readings]]\nfiles = "readings/many*.parquet"\ntimezone = "UTC"\n')
    return sum(
        write(folder, f"many{n:03d}.parquet", f"{2024 + n // 12}-{n % 12 + 1:02d}-01", 28)
        for n in range(MONTHS)
    )


def take_in(folder: Path) -> float:
    """Processor seconds of one take-in."""
    done = subprocess.run(
        [sys.executable, "-c", _TAKE_IN, str(folder)], capture_output=True, check=False, text=True
    )
    assert done.returncode == 0, done.stderr
    return float(done.stdout)


def test_a_morning_costs_a_morning(benchmark: Any, tmp_path: Path) -> None:
    folder = tmp_path / "many"
    before = make(folder)
    first_s = take_in(folder)
    n = MONTHS - 1
    day = write(folder, "many_day.parquet", f"{2024 + n // 12}-{n % 12 + 1:02d}-29", 1)
    found: list[float] = []
    benchmark.pedantic(lambda: found.append(take_in(folder)), rounds=1)
    peak_mb = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    benchmark.extra_info |= {
        "rows_before": before,
        "first_s": round(first_s, 1),
        "first_us_a_row": round(1e6 * first_s / before, 2),
        "day_rows": day,
        "morning_s": round(found[0], 1),
        "morning_us_a_row": round(1e6 * found[0] / day, 2),
        "peak_mb": round(peak_mb),
    }
    print(benchmark.extra_info)
    # All that a morning looks at is less than all there is.
    assert found[0] < first_s
    assert peak_mb < MOST_MB
