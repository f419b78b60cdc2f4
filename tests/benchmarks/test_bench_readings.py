"""Rows a second from a reading file to nights, beside DuckDB reading the same file uncleaned.

    python -m pytest tests/benchmarks/test_bench_readings.py --benchmark-only -n 0

One file of hourly registers of many customer meters, as CSV and as Parquet, in order of time.
`DISTRICT_BENCH_ROWS` sets the number of rows (a million without it; a hundred million need some
6 GB of disk and half an hour). Reading, cleaning and reducing are the command `check`, run on its
own, so that the peak of its memory is seen. The reference reads every value of the file and sums.
"""

from __future__ import annotations

import os
import resource
import shutil
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import duckdb
import pytest

from tests.bad_inputs.small_folder import feature, make_folder, read_layer, write_layer

ROWS = int(os.environ.get("DISTRICT_BENCH_ROWS", "1000000"))
METERS = max(60, min(3000, ROWS // 8760))
MOST_MB = 4096
pytestmark = pytest.mark.benchmark(group="readings")


def make(folder: Path, suffix: str) -> Path:
    """The small folder with many more meters, and the one file of their readings."""
    make_folder(folder)
    meters = read_layer(folder, "meters")
    meters += [
        feature("Point", (7.002, 47.001), meter_id=f"R{m}", role="customer", kind="register")
        for m in range(METERS)
    ]
    write_layer(folder, "meters", meters)
    file = folder / f"readings/many{suffix}"
    with (folder / "district.toml").open("a") as settings:
        settings.write(f'\n[[readings]]\nfiles = "readings/{file.name}"\ntimezone = "UTC"\n')
    # Little memory here: a child begins with as much as its parent, and its peak counts that.
    connection = duckdb.connect(config={"threads": 1, "memory_limit": "1GB"})
    # A draw of 0 to 30 L an hour that differs by meter and hour, summed by a register.
    connection.execute(
        f"""
        COPY (
            SELECT 'R' || m AS device_id, TIMESTAMP '2015-01-01' + to_hours(h) AS time,
                round(h * (0.005 + m % 7 * 0.001) + 0.01 * sin(h * 0.7 + m), 3) + 10 AS value
            FROM range({ROWS // METERS}) hours(h), range({METERS}) meters(m)
        ) TO '{file}' ({"FORMAT parquet" if suffix == ".parquet" else "FORMAT csv, HEADER"})
        """
    )
    return file


def reference(file: Path) -> float:
    """Seconds DuckDB takes to read each value of the file and each time, and sum them."""
    began = time.perf_counter()
    read = "read_parquet" if file.suffix == ".parquet" else "read_csv"
    query = f"SELECT count(DISTINCT device_id), max(time), sum(value) FROM {read}('{file}')"
    with duckdb.connect(config={"threads": 1, "memory_limit": "1GB"}) as connection:
        (found,) = connection.execute(query).fetchall()
    assert found[0] == METERS
    return time.perf_counter() - began


@pytest.mark.parametrize("suffix", [".csv", ".parquet"])
def test_rows_to_nights(benchmark: Any, tmp_path: Path, suffix: str) -> None:
    folder = tmp_path / "many"
    file = make(folder, suffix)
    bare_s = min(reference(file) for _ in range(3))

    def check() -> None:
        command = [sys.executable, "-m", "district", "check", str(folder)]
        done = subprocess.run(command, capture_output=True, check=False, text=True)
        assert "Findings:" in done.stdout, done.stderr

    def forget() -> None:
        shutil.rmtree(folder / ".district", ignore_errors=True)

    benchmark.pedantic(check, setup=forget, rounds=1)
    cold_s = benchmark.stats.stats.min
    began = time.perf_counter()
    check()
    warm_s = time.perf_counter() - began
    # The largest of all finished children of this process, in MB.
    peak_mb = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    benchmark.extra_info |= {
        "rows": ROWS,
        "rows_a_second": round(ROWS / cold_s),
        "duckdb_rows_a_second": round(ROWS / bare_s),
        "times_duckdb": round(cold_s / bare_s, 1),
        "warm_s": round(warm_s, 1),
        "file_mb": round(file.stat().st_size / 1e6),
        "peak_mb": round(peak_mb),
    }
    print(benchmark.extra_info)
    assert peak_mb < MOST_MB
