"""The whole balance of many zones, beside one plain query over the same kept readings.

    DISTRICT_BENCH_ZONES=1000 python -m pytest tests/benchmarks/test_bench_balance.py \\
        --benchmark-only -n 0

A year of quarter hours of one meter a zone; every fifth zone is fed through the one before it,
every tenth has a building with an hourly meter, every tenth a pressure logger.
`DISTRICT_BENCH_ZONES` sets the number of zones (100 without it; a thousand are 35 million rows,
1 GB of disk and some minutes, most of them the first reading of the files, which is told but not
compared). The reference is what a careful analyst would type to get only the lowest rolling hour
of each zone's meter and night, local time, and its daily volume. It reads the very files in which
readings are kept, with the threads and the memory that the balance has; it nets no zone that
feeds another, as the balance does. The balance is the command `balance` on its own: layers,
network, checks, every reduction, every table. Both are processes of their own and start Python.

Compared are seconds of the processor, as both use one thread: they hold on a busy machine. What
a watch shows is told too. Starting, importing and looking for the few lines of layers take the
same seconds whatever the size: below a thousand zones the ratio is told, not held to its limit.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import duckdb
import pytest

from district.schema.stored import INTERVALS
from district.store.keep import part_files
from tests.bad_inputs.small_folder import feature, write_layer

ZONES = int(os.environ.get("DISTRICT_BENCH_ZONES", "100"))
MOST_TIMES = 3
MOST_MB = 2048
HELD_FROM = 1000
"""Zones from which on the ratio must hold."""
DAYS = 365
REFERENCE = """
import sys, duckdb
with duckdb.connect(config={"threads": 1, "memory_limit": "2GB"}) as connection:
    for query in sys.argv[2:]:
        assert len(connection.execute(query).df()) > int(sys.argv[1])
"""
MEASURED = """
import json, resource, subprocess, sys, time
began = time.perf_counter()
done = subprocess.run(sys.argv[1:], stdout=subprocess.DEVNULL)
watch_s = time.perf_counter() - began
assert done.returncode in (0, 3)  # 3: something to act on.
used = resource.getrusage(resource.RUSAGE_CHILDREN)
print(json.dumps({
    "processor_s": round(used.ru_utime + used.ru_stime, 1),
    "watch_s": round(watch_s, 1),
    "peak_mb": round(used.ru_maxrss / 1024),
}))
"""
LOWEST_HOUR = """
    WITH night AS (
        SELECT device_id, timezone('Europe/Zurich', start_utc) AS local, volume_m3
        FROM read_parquet(FILES) WHERE quality = 'ok' AND hour(local) < 6
    ), rolling AS (
        SELECT device_id, local::DATE AS night, sum(volume_m3) OVER hour AS hour_m3,
            count(*) OVER hour AS quarters
        FROM night
        WINDOW hour AS (
            PARTITION BY device_id, local::DATE ORDER BY local
            ROWS BETWEEN 3 PRECEDING AND CURRENT ROW
        )
    )
    SELECT device_id, night, min(hour_m3) / 3.6 AS lowest_l_s
    FROM rolling WHERE quarters = 4 GROUP BY ALL
"""
DAILY_VOLUME = """
    SELECT device_id, timezone('Europe/Zurich', start_utc)::DATE AS day, sum(volume_m3)
    FROM read_parquet(FILES) WHERE quality IN ('ok', 'gap') GROUP BY ALL
"""
SETTINGS = """\
[district]
name = "Many"
timezone = "Europe/Zurich"

[[readings]]
files = "readings/*.parquet"
timezone = "UTC"
"""
pytestmark = pytest.mark.benchmark(group="balance")


def make(folder: Path, zones: int) -> None:
    """Layers of so many zones, in rows off trunk mains, and a year of readings by month."""
    (folder / "readings").mkdir(parents=True)
    (folder / "district.toml").write_text(SETTINGS)
    names = ("pipes", "meters", "zones", "connections", "sensors", "sources")
    layers: dict[str, list[dict[str, Any]]] = {name: [] for name in names}
    for zone in range(zones):
        _add_zone(layers, zone)
    for name, features in layers.items():
        write_layer(folder, name, features)
    connection = duckdb.connect(config={"threads": 1, "memory_limit": "1GB"})
    # Counts of ten litres, so many a quarter as a zone of a few hundred properties draws; twice
    # as many where another zone lies behind.
    flow = (
        "(hash(d * 100000 + q) % 20 + 30 + d % 17"
        " + (40 * (1 - cos(((q + 4) % 96) / 96.0 * 2 * pi())))::INT)"
        " * CASE WHEN d % 5 = 3 THEN 2 ELSE 1 END"
    )
    for month in range(12):
        first, last = (DAYS * 96 * m // 12 for m in (month, month + 1))
        connection.execute(
            f"""
            COPY (
                SELECT 'M' || d AS device_id, TIMESTAMP '2024-01-01' + to_minutes(15 * q) AS time,
                    ({flow})::DOUBLE AS value
                FROM range({first}, {last}) quarters(q), range({zones}) devices(d)
                UNION ALL
                SELECT 'B' || d, TIMESTAMP '2024-01-01' + to_minutes(15 * q), (q + d) % 9
                FROM range({first}, {last}, 4) hours(q), range(0, {zones}, 10) devices(d)
                UNION ALL
                SELECT 'P' || d, TIMESTAMP '2024-01-01' + to_minutes(15 * q),
                    45 - 5 * sin(q / 96.0 * 2 * pi()) + d % 7
                FROM range({first}, {last}, 4) hours(q), range(5, {zones}, 10) devices(d)
            ) TO '{folder}/readings/{month + 1:02}.parquet' (FORMAT parquet)
            """
        )
    connection.close()


def _add_zone(layers: dict[str, list[dict[str, Any]]], zone: int) -> None:
    row, place = divmod(zone, 50)
    five, at = divmod(place, 5)
    nested = at == 4
    x = round(7 + 0.004 * (4 * five + min(at, 3)), 6)
    trunk = round(47 + 0.014 * row, 6)
    foot = round(trunk + (0.006 if nested else 0.0), 6)
    if place == 0:
        start = (round(x - 0.004, 6), trunk)
        layers["sources"].append(feature("Point", start, source_id=f"S{row}", head_m=500))
    if not nested:
        _add_pipe(layers, (round(x - 0.004, 6), trunk), (x, trunk))
    ys = [round(foot + dy, 6) for dy in (0.0, 0.002, 0.006)]
    _add_pipe(layers, (x, ys[0]), (x, ys[1]))
    _add_pipe(layers, (x, ys[1]), (x, ys[2]))
    side = (round(x + 0.001, 6), ys[1])
    _add_pipe(layers, (x, ys[1]), side)
    at_inlet = (x, round(foot + 0.001, 6))
    layers["meters"].append(
        feature(
            "Point",
            at_inlet,
            meter_id=f"M{zone}",
            role="transfer" if nested else "inlet",
            downstream=f"Z{zone}",
            kind="pulse",
            litres_per_pulse=10,
        )
    )
    corners = [
        (round(x + dx, 6), round(foot + dy, 6))
        for dx, dy in (
            (-0.0015, 0.0011),
            (0.0015, 0.0011),
            (0.0015, 0.0069),
            (-0.0015, 0.0069),
            (-0.0015, 0.0011),
        )
    ]
    layers["zones"].append(feature("Polygon", [corners], zone_id=f"Z{zone}", name=f"Zone {zone}"))
    for n in range(4):
        tap = (x, round(foot + 0.0025 + 0.0008 * n, 6))
        building = {"meter_id": f"B{zone}"} if zone % 10 == 0 and n == 0 else {}
        layers["connections"].append(
            feature("Point", tap, connection_id=f"C{zone}-{n}", properties=40 + n, **building)
        )
    if zone % 10 == 0:
        meter = feature(
            "Point",
            side,
            meter_id=f"B{zone}",
            role="building",
            kind="pulse",
            litres_per_pulse=10,
        )
        layers["meters"].append(meter)
    if zone % 10 == 5:
        logger = feature("Point", side, sensor_id=f"P{zone}", kind="pressure", elevation_m=430)
        layers["sensors"].append(logger)


def _add_pipe(layers: dict[str, list[dict[str, Any]]], *ends: tuple[float, float]) -> None:
    number = len(layers["pipes"])
    layers["pipes"].append(
        feature(
            "LineString",
            ends,
            pipe_id=f"P{number}",
            material="pvc",
            diameter_mm=150,
            installed_year=1980,
        )
    )


def measured(command: list[str]) -> dict[str, float]:
    """What a process takes: seconds of the processor and by the watch, and its most MB."""
    done = subprocess.run(
        [sys.executable, "-c", MEASURED, *command], capture_output=True, check=False, text=True
    )
    assert done.returncode == 0, done.stderr
    found: dict[str, float] = json.loads(done.stdout)
    return found


def test_the_balance_beside_one_query(benchmark: Any, tmp_path: Path) -> None:
    folder = tmp_path / "many"
    make(folder, ZONES)
    district = [sys.executable, "-m", "district"]
    first = measured([*district, "check", str(folder)])
    files = [str(p) for p in part_files(folder / ".district", INTERVALS)]
    queries = [q.replace("FILES", str(files)) for q in (LOWEST_HOUR, DAILY_VOLUME)]
    bare = measured([sys.executable, "-c", REFERENCE, str(300 * ZONES), *queries])
    balance = benchmark.pedantic(
        lambda: measured([*district, "balance", str(folder)]), rounds=1, iterations=1
    )
    times = balance["processor_s"] / bare["processor_s"]
    rows = ZONES * DAYS * 96
    benchmark.extra_info |= {
        "zones": ZONES,
        "rows": rows,
        "first_rows_a_second": round(rows / first["watch_s"]),
        "times_reference": round(times, 2),
        "times_reference_by_watch": round(balance["watch_s"] / bare["watch_s"], 2),
        "first": first,
        "reference": bare,
        "balance": balance,
    }
    print(benchmark.extra_info)
    assert balance["peak_mb"] < MOST_MB
    if ZONES >= HELD_FROM:
        assert times <= MOST_TIMES
