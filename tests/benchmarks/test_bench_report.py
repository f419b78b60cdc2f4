"""How long the whole report takes, beside a plain query over the same readings in the same run.

    python -m pytest tests/benchmarks --benchmark-only -n 0

The reference is what a careful analyst would type at a prompt: DuckDB reads the sample's zone
meter files and sums each night window. Ratios to it hold when the machine's speed drifts.
"""

from __future__ import annotations

import resource
import shutil
import subprocess
import sys
import timeit
from pathlib import Path
from typing import Any

import duckdb
import pytest

from district import opening
from district.balance import district_balance

SAMPLE = Path(__file__).parents[2] / "sample_network"
MOST_TIMES = 40
"""How many times the reference the balance of a year may take."""
pytestmark = pytest.mark.benchmark(group="sample district")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    copy = tmp_path_factory.mktemp("bench") / "sample"
    shutil.copytree(SAMPLE, copy, ignore=shutil.ignore_patterns(".district"))
    return copy


def night_means(folder: Path) -> list[Any]:
    """The reference: mean flow of each zone meter and night, straight from the files."""
    query = (
        "SELECT device_id, date_trunc('day', time) AS night, avg(value) "
        f"FROM '{folder}/readings/zone_meters_*.parquet' "
        "WHERE date_part('hour', time) BETWEEN 2 AND 3 GROUP BY ALL ORDER BY ALL"
    )
    return duckdb.sql(query).fetchall()


def run_report(folder: Path) -> None:
    command = [sys.executable, "-m", "district", "report", str(folder), "--out"]
    done = subprocess.run([*command, str(folder.parent / "maps")], capture_output=True, check=False)
    assert done.returncode == 3, done.stderr.decode()


def test_reference_query(benchmark: Any, folder: Path) -> None:
    benchmark.pedantic(lambda: night_means(folder), rounds=5, warmup_rounds=1)


def test_import(benchmark: Any) -> None:
    command = [sys.executable, "-c", "import district"]
    benchmark.pedantic(lambda: subprocess.run(command, check=True), rounds=3, warmup_rounds=1)


def test_report_from_cold_files(benchmark: Any, folder: Path) -> None:
    def forget() -> None:
        shutil.rmtree(folder / ".district", ignore_errors=True)

    benchmark.pedantic(lambda: run_report(folder), setup=forget, rounds=3)


def test_report_from_warm_files(benchmark: Any, folder: Path) -> None:
    run_report(folder)
    benchmark.pedantic(lambda: run_report(folder), rounds=5)
    # The largest of all finished children of this process, in MB.
    benchmark.extra_info["peak_mb"] = round(
        resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    )


def test_balance_of_the_year(benchmark: Any, folder: Path) -> None:
    opened = opening.open_folder(folder)

    def balance() -> None:
        found = district_balance(
            opened.network, opened.reduced, settings=opened.settings, works=opened.inputs.works
        )
        assert len(found.nights) == 8 * 365

    benchmark.pedantic(balance, rounds=5, warmup_rounds=1)
    reference = min(timeit.repeat(lambda: night_means(folder), number=1, repeat=5))
    ratio = benchmark.stats.stats.min / reference
    benchmark.extra_info["times_the_reference"] = round(ratio, 1)
    assert ratio < MOST_TIMES
