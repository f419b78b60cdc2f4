"""Detectability of a zone of 10,000 pipes with 50 pressure loggers, and the next devices for it.

    python -m pytest tests/benchmarks/test_bench_detectability.py --benchmark-only -n 0 -s

The reference is one dense product in single precision of the signs of all pairs of pipes (200
readings): the least that comparing every pipe with every other takes. The ratio to it holds when
the machine's speed drifts; both are processor time.
"""

from __future__ import annotations

import multiprocessing
import resource
import time
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
import pytest
from scipy.sparse import csr_array, eye_array

from district.hydraulics import Kind, Model
from district.hydraulics.water import Calibrated, Demands, Drawn
from district.locate.detectability import detectability, zone_reach
from district.locate.hearing import Site, hear_zones
from district.locate.next_device import next_devices
from district.locate.outlook import Outlook
from district.locate.spots import Heard
from district.schema import empty
from district.schema.event_tables import EVENTS
from district.schema.located import CALIBRATION, LOGGER_CHECKS
from district.settings import Settings

SIDE, PIPES_COUNT, LOGGERS_COUNT, DAYS = 91, 10_000, 50, 28
MOST_S, MOST_MB = 30.0, 4096
MOST_TIMES = 40
"""How many times the reference all of it may take."""
pytestmark = pytest.mark.benchmark(group="10,000 pipes, 50 loggers")


def town() -> tuple[Heard, Site, Outlook]:
    """Streets in a grid with a fifth of the blocks open, mains along every tenth street."""
    random = np.random.default_rng(20250529)
    node = np.arange(SIDE * SIDE).reshape(SIDE, SIDE)
    tree = [(node[i, j], node[i, j + 1]) for i in range(SIDE) for j in range(SIDE - 1)]
    tree += [(node[i, 0], node[i + 1, 0]) for i in range(SIDE - 1)]
    across = [(node[i, j], node[i + 1, j]) for i in range(SIDE - 1) for j in range(1, SIDE)]
    picked = random.choice(len(across), PIPES_COUNT - len(tree), replace=False)
    ends = np.array([*tree, *(across[i] for i in np.sort(picked))])
    start, end, nodes = ends[:, 0], ends[:, 1], SIDE * SIDE
    wide = (start % SIDE == 0) & (end % SIDE == 0)
    wide |= (start // SIDE % 10 == 0) & (start // SIDE == end // SIDE)
    length = random.uniform(40, 160, PIPES_COUNT)
    fixed = np.full(nodes, np.nan)
    fixed[node[SIDE // 2, 0]] = 80.0
    model = Model(
        node_id=node.ravel(),
        elevation_m=np.zeros(nodes),
        fixed_head_m=fixed,
        link_id=np.arange(PIPES_COUNT),
        start=start,
        end=end,
        kind=np.full(PIPES_COUNT, int(Kind.PIPE)),
        length_m=length,
        diameter_mm=np.where(wide, 400.0, 100.0),
        roughness=np.full(PIPES_COUNT, 110.0),
        minor_k=np.zeros(PIPES_COUNT),
        is_open=np.ones(PIPES_COUNT, dtype=bool),
        setting_m=np.full(PIPES_COUNT, np.nan),
        pump=np.full((PIPES_COUNT, 3), np.nan),
    )
    at = np.sort(random.choice(nodes, LOGGERS_COUNT, replace=False))
    rows = np.arange(LOGGERS_COUNT)
    watch = csr_array((np.ones(LOGGERS_COUNT), (rows, at)), shape=(LOGGERS_COUNT, nodes))
    names = np.array([f"L{i:02d}" for i in rows], dtype=object)
    drawn = Drawn(
        model,
        np.arange(PIPES_COUNT),
        np.full(nodes, "V1"),
        csr_array(eye_array(nodes)),
        names,
        watch,
        np.zeros(LOGGERS_COUNT),
    )
    day, hour = np.divmod(np.arange(24 * DAYS), 24)
    dates = pd.Timestamp("2025-03-03") + pd.to_timedelta(day, unit="D")
    course = (1 - 0.6 * np.cos(2 * np.pi * (hour - 3) / 24)) * random.normal(1, 0.04, len(hour))
    even = csr_array(np.full((1, nodes), 1 / nodes))
    demands = Demands(
        pd.DataFrame({"day": dates, "hour": hour}),
        np.array(["V1"], dtype=object),
        60.0 * course[:, None],
        np.zeros((len(hour), nodes)),
        even,
        even,
        np.array([8.0]),
        np.array([0.5]),
    )
    pressures = pd.DataFrame(
        {
            "device_id": np.repeat(names, len(hour)),
            "day": np.tile(dates, LOGGERS_COUNT),
            "hour": np.tile(hour, LOGGERS_COUNT),
            "pressure_m": np.tile(60 - 3 * course**1.85, LOGGERS_COUNT)
            + random.normal(0, 0.15, LOGGERS_COUNT * len(hour)),
        }
    )
    rough = 110 * np.exp(random.normal(0, 0.1, (8, PIPES_COUNT)))
    fit = Calibrated(
        drawn,
        rough,
        np.zeros(LOGGERS_COUNT),
        empty(CALIBRATION),
        empty(LOGGER_CHECKS),
        np.ones(LOGGERS_COUNT, dtype=bool),
    )
    x = 100.0 * (start % SIDE + end % SIDE) / 2
    y = 100.0 * (start // SIDE + end // SIDE) / 2
    rate = length / 1e5 * np.exp(random.normal(0, 0.7, PIPES_COUNT))
    zone = Outlook(
        "V1",
        tuple(f"P{i:05d}" for i in range(PIPES_COUNT)),
        start,
        end,
        length,
        rate,
        rate[:, None] * np.exp(random.normal(0, 0.3, (PIPES_COUNT, 200))),
        0.2,
        0.16,
        0.25,
    )
    return Heard(fit, demands, pressures), Site("V1", np.arange(PIPES_COUNT), x, y), zone


def ask(heard: Heard, site: Site, zone: Outlook) -> dict[str, Any]:
    """Everything that is told of leaks to come, with the seconds each part took."""
    settings = Settings()
    marks = [time.process_time()]
    listening = hear_zones(heard, [site], empty(EVENTS), nights_count=14)
    zone = replace(zone, heard=listening["V1"])
    marks.append(time.process_time())
    table = detectability([zone], settings=settings)
    marks.append(time.process_time())
    reach = zone_reach([zone], settings=settings)
    marks.append(time.process_time())
    devices = next_devices([zone], flow_l_s=1.0, most_count=5, least_share=0.0)
    marks.append(time.process_time())
    return {
        "table": table,
        "reach": reach,
        "devices": devices,
        "seconds": np.diff(marks),
        "readings": listening["V1"].change_m.shape[0],
    }


def reference() -> float:
    """Seconds of one product of 10,000 x 200 by 200 x 10,000 in single precision."""
    random = np.random.default_rng(1)
    signs = random.normal(size=(200, PIPES_COUNT)).astype(np.float32)
    began = time.process_time()
    product = signs.T @ signs
    took = time.process_time() - began
    assert product.shape == (PIPES_COUNT, PIPES_COUNT)
    return took


def _peak_mb(answer: Any) -> None:
    ask(*town())
    answer.send(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)


def test_ten_thousand_pipes_and_fifty_loggers(benchmark: Callable[..., Any]) -> None:
    heard, site, zone = town()
    unit = reference()
    found = benchmark.pedantic(ask, (heard, site, zone), rounds=1)  # type: ignore[attr-defined]
    hear, detect, reach, device = found["seconds"]
    near, far = multiprocessing.get_context("spawn").Pipe(duplex=False)
    other = multiprocessing.get_context("spawn").Process(target=_peak_mb, args=(far,))
    other.start()
    peak = near.recv()
    other.join()
    print(
        f"\nhear {hear:.1f} s, smallest and walk {detect:.1f} s, by size {reach:.1f} s, "
        f"next devices {device:.1f} s: {hear + detect + reach + device:.1f} s, "
        f"{(hear + detect + reach + device) / unit:.0f} times the product of all pairs "
        f"({unit:.2f} s); {found['readings']} readings; peak {peak:.0f} MB"
    )
    assert len(found["table"]) == PIPES_COUNT
    assert len(found["reach"]) == 4
    assert hear + detect < MOST_S
    assert hear + detect + reach + device < MOST_TIMES * unit
    assert peak < MOST_MB
