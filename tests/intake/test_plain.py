"""What is told plain gives, all at once, what the careful way gives one by one."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.intake import readings as module
from district.intake.cleaned import Cleaned
from district.intake.devices import Device
from district.intake.lanes import lanes_of
from district.intake.parse import ReadingFile
from district.intake.plain import Records
from district.settings import Readings as Kind
from tests.intake.test_lanes import presence

HOUR_US = 3_600_000_000
FROM = pd.Timestamp("2025-01-20", tz="UTC")
THIRD = 3 * 12 * 55 + 4
"""11 to 20 February 2025."""
KINDS = ("register", "pulse", "electromagnetic", "pressure", "acoustic", "wet_floor")
FILES = [
    ReadingFile(Path(n), n, Kind(files=f"{n[0]}*", stamp=s), "UTC")
    for n, s in (("a1.csv", "end"), ("a2.csv", "end"), ("b1.csv", "start"))
]


def device(n: int) -> Device:
    kind = KINDS[n % len(KINDS)]
    word = "sensor" if n % len(KINDS) >= 3 else "meter"
    stated = {"resolution_m3": 0.01, "counts": True} if kind == "pulse" and n % 4 else {}
    return Device(
        f"D{n:03d}", kind, word, 0.001 if n % 5 == 1 else 1.0, both_ways=n % 7 == 0, **stated
    )


def times(n: int, rng: np.random.Generator) -> np.ndarray:
    """Readings every quarter to four hours; some devices lose some, or begin in the third."""
    step = (900, 3600, 3600, 3600, 601, 14_400)[n % 6] * 1_000_000
    first = FROM.value // 1000 + (23 * 24 * HOUR_US if n % 9 == 8 else 0)
    at = first + step * np.arange((35 * 24 - (23 * 24 if n % 9 == 8 else 0)) * HOUR_US // step)
    lost = rng.random(len(at)) < (0.0, 0.003, 0.05)[n // 6 % 3]
    return at[~lost]


def values(one: Device, count: int, n: int, rng: np.random.Generator) -> np.ndarray:
    wave = 5 + 2 * np.sin(np.arange(count) / 5) + rng.normal(0, 0.3, count)
    amiss = n // 6 % 4 == 3 and count > 60
    if one.kind == "register":
        value = np.round(100 + np.cumsum(np.abs(wave)), 2)
        if amiss:
            value[int(rng.integers(20, count - 20))] = 0.0
        return value
    if one.kind == "pulse":
        value = np.round(wave)
    elif one.kind == "wet_floor":
        return np.zeros(count)
    else:
        value = np.round(wave + (40 if one.kind == "pressure" else 0), 2)
    if amiss:
        value[int(rng.integers(20, count - 20))] = (90.0, -3.0, value[10])[n // 24 % 3]
    return value


def cleaned(seed: int, monkeypatch: pytest.MonkeyPatch, *, careful: bool) -> tuple[Cleaned, float]:
    rng = np.random.default_rng(seed)
    devices = {d.device_id: d for d in map(device, range(54))}
    at = {i: times(n, rng) for n, i in enumerate(devices)}
    parts = [
        pd.DataFrame(
            {
                "device_id": i,
                "time_utc": pd.DatetimeIndex(at[i].astype("datetime64[us]"), tz="UTC"),
                "later_s": np.int32(0),
                "value": values(devices[i], len(at[i]), n, rng),
                "rate": math.nan,
                "row": np.arange(len(at[i]), dtype=np.int32) + 2,
                "file": np.int32(2) if n % 2 else np.arange(len(at[i])) // 700 % 2,
            }
        )
        for n, i in enumerate(devices)
    ]
    raw = pd.concat(parts, ignore_index=True)
    shares: list[float] = []
    found = module.records_of

    def told(*given: Any, **more: Any) -> Records:
        records = found(*given, **more)
        shares.append(records.plain.mean())
        return replace(records, plain=records.plain & (not careful))

    with monkeypatch.context() as patch:
        patch.setattr(module, "records_of", told)
        result = module.clean_third(
            raw,
            FILES,
            devices,
            THIRD,
            lanes_of(presence(**at)),
            lambda ids: raw[raw["device_id"].isin(ids)],
        )
    return result, shares[0]


@pytest.mark.parametrize("seed", range(4))
def test_plain_and_careful_are_the_same(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    quick, share = cleaned(seed, monkeypatch, careful=False)
    slow, _ = cleaned(seed, monkeypatch, careful=True)
    # Neither all nor none, or this would show nothing.
    assert 0.2 < share < 0.9
    for name, key in (
        ("intervals", ["device_id", "start_utc"]),
        ("samples", ["device_id", "time_utc"]),
        ("spells", ["device_id"]),
    ):
        one, two = (
            getattr(c, name).astype({"device_id": str}).sort_values(key, ignore_index=True)
            for c in (quick, slow)
        )
        texts = {c: str for c in one if one[c].dtype == "category"}
        pd.testing.assert_frame_equal(
            one.astype(texts), two, check_dtype=False, rtol=1e-9, atol=1e-6
        )
    assert sorted(map(repr, quick.told.tallies)) == sorted(map(repr, slow.told.tallies))
    flags = slow.intervals["quality"].value_counts()
    assert {"ok", "gap"} <= set(flags.index)
