"""The same readings give the same store, in whatever files and on whatever days they came."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from itertools import pairwise
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pandas as pd
import pytest

from district import intake, opening, store
from district.errors import Finding
from district.ingest import take_in
from district.results import Inputs
from district.schema.stored import INTERVALS, SAMPLES
from district.settings import Settings, read_settings
from tests.bad_inputs.small_folder import make_folder

DAY = pd.Timedelta(days=1)


def readings(seed: int) -> pd.DataFrame:
    """Two months of hourly readings of all devices of the small folder, with what goes wrong."""
    rng = np.random.default_rng(seed)
    times = pd.date_range("2025-02-18", "2025-04-16", freq="h")
    hours = len(times)
    flow = np.round(5 + 3 * np.sin(np.arange(hours) / 4) + rng.normal(0, 0.4, hours), 2)
    parts = []
    for n, device_id in enumerate(("MA", "MB", "PL1")):
        value = np.round(40 + flow / 3, 1) if device_id == "PL1" else flow * (n + 1)
        # Spikes, a value that stands still, and hours of negative flow, anywhere.
        for at in rng.integers(0, hours, 4):
            value[at] = 900.0
        still = int(rng.integers(0, hours - 8))
        value[still : still + 8] = value[still]
        parts.append(pd.DataFrame({"device_id": device_id, "time": times, "value": value}))
    register = 99_000 + np.round(np.cumsum(rng.uniform(0, 0.2, hours)), 3)
    edges = np.flatnonzero((times.day % 10 == 1) & (times.hour < 2))
    register[rng.choice(edges, 3, replace=False) - rng.integers(0, 3)] = [0.0, 500_000.0, 17.0]
    changed = int(rng.integers(200, hours - 200))
    register[changed:] -= register[changed] - 1.5
    parts.append(pd.DataFrame({"device_id": "CM1", "time": times, "value": register}))
    few = times[:: int(rng.integers(20, 40))]
    parts.append(pd.DataFrame({"device_id": "WF1", "time": few, "value": 0.0}))
    every = pd.concat(parts, ignore_index=True)
    lost = rng.random(len(every)) < 0.02
    gap = (every["device_id"] == "MB") & every["time"].between("2025-02-25", "2025-03-29")
    return every[~lost & ~gap].sort_values(["time", "device_id"], ignore_index=True)


def folder_of(path: Path) -> Path:
    folder = make_folder(path)
    for file in (folder / "readings").iterdir():
        file.unlink()
    toml = (folder / "district.toml").read_text()
    head, _, _ = toml.partition("[[readings]]")
    (folder / "district.toml").write_text(head + '[[readings]]\nfiles = "readings/day*.csv"\n')
    return folder


def write(folder: Path, name: str, rows: pd.DataFrame) -> None:
    rows.to_csv(folder / "readings" / f"day{name}.csv", index=False)


@cache
def layers_of_all() -> Inputs:
    """The layers of the small folder, which no test here changes."""
    with TemporaryDirectory() as scratch:
        return intake.read_layers(make_folder(Path(scratch) / "small"), Settings())


def taken_in(folder: Path) -> store.Manifest:
    """The store after a run, of which only the taking in is run."""
    settings, place = read_settings(folder), folder / ".district"
    before = store.read_manifest(place)
    known = before.seen if before is not None else {}
    looks = store.looks(intake.reading_files(folder, settings), folder, known)
    digests = {path: look.digest for path, look in looks.items()}
    take_in(
        folder,
        settings,
        layers_of_all(),
        place,
        digests=digests,
        fingerprint=store.fingerprint(folder, digests, settings),
        seen=store.seen(looks, folder),
        say=opening.silent,
    )
    manifest = store.read_manifest(place)
    assert manifest is not None
    return manifest


def tables(folder: Path, manifest: store.Manifest) -> list[pd.DataFrame]:
    place = folder / ".district"
    found = [store.load_quality(place)]
    for table in (INTERVALS, SAMPLES):
        rows = store.load_frames(place, [p.key for p in manifest.parts], table)
        rows = rows.astype({"device_id": str})
        found.append(rows.sort_values(list(table.key), ignore_index=True))
    return found


def lasting(manifest: store.Manifest) -> list[Finding]:
    """All findings but those of what a file said before."""
    return [f for f in manifest.findings if "since it was last read" not in f.got]


@pytest.mark.parametrize("seed", range(3))
def test_day_by_day_gives_what_all_at_once_gives(tmp_path: Path, seed: int) -> None:
    rows = readings(seed)
    rng = np.random.default_rng(seed)
    days = dict(list(rows.groupby(rows["time"].dt.normalize())))
    cut = rng.choice(len(days), 7, replace=False)
    files = [pd.concat(list(days.values())[a:b]) for a, b in _runs(sorted(cut), len(days))]
    # The last file says again what some before said, and a file comes late.
    files.append(pd.concat([files[2], files[3].iloc[:100]]))
    one, daily = folder_of(tmp_path / "one"), folder_of(tmp_path / "daily")
    for n, file in enumerate(files):
        write(one, f"{n:02d}", file)
    for n in rng.permutation(len(files)):
        wrong = files[n].assign(value=files[n]["value"] * 1.5)
        if n == 4:
            write(daily, f"{n:02d}", wrong)
            taken_in(daily)
        write(daily, f"{n:02d}", files[n])
        if rng.random() < 0.5:
            taken_in(daily)
    first, second = taken_in(one), taken_in(daily)
    assert sorted(p.key for p in first.parts) == sorted(p.key for p in second.parts)
    for a, b in zip(tables(one, first), tables(daily, second), strict=True):
        pd.testing.assert_frame_equal(a, b)
    assert lasting(first) == lasting(second)
    flags = set(tables(one, first)[1]["quality"])
    assert {"ok", "gap"} < flags


def test_readings_in_other_files_are_the_same_readings(tmp_path: Path) -> None:
    rows = readings(5)
    one, many = folder_of(tmp_path / "one"), folder_of(tmp_path / "many")
    write(one, "0", rows)
    for device_id, own in rows.groupby("device_id"):
        write(many, f"_{device_id}", own)
    for a, b in zip(tables(one, taken_in(one))[1:], tables(many, taken_in(many))[1:], strict=True):
        pd.testing.assert_frame_equal(a, b)


def test_volumes_run_on_across_the_ends_of_thirds(tmp_path: Path) -> None:
    folder = folder_of(tmp_path / "one")
    write(folder, "0", readings(1))
    _, flows, _ = tables(folder, taken_in(folder))
    for device_id in ("CM1",):
        own = flows[flows["device_id"] == device_id]
        assert (own["start_utc"].iloc[1:].to_numpy() == own["end_utc"].iloc[:-1].to_numpy()).all()


def test_a_run_that_is_killed_anywhere_goes_on_the_next_time(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    rows = readings(2)
    folder, whole = folder_of(tmp_path / "killed"), folder_of(tmp_path / "whole")
    half = rows["time"] < "2025-03-20"
    write(folder, "0", rows[half])
    before = taken_in(folder)
    write(folder, "1", rows[~half])
    done = store.write_kept
    # What was kept before a run was killed stays: each gets further than the one before.
    for survived in range(3):
        left = iter(range(survived))

        def killed(*given: object, left: Iterator[int] = left) -> None:
            if next(left, None) is None:
                raise KeyboardInterrupt
            done(*given)  # type: ignore[arg-type]

        with monkeypatch.context() as patch:
            patch.setattr(store, "write_kept", killed)
            with pytest.raises(KeyboardInterrupt):
                taken_in(folder)
        assert store.read_manifest(folder / ".district") == before
    for n, part in enumerate((rows[half], rows[~half])):
        write(whole, str(n), part)
    now, anew = taken_in(folder), taken_in(whole)
    assert now.parts == anew.parts
    assert now.findings == anew.findings


def _runs(cuts: list[int], count: int) -> list[tuple[int, int]]:
    edges = [0, *(int(c) + 1 for c in cuts if c + 1 < count), count]
    return list(pairwise(edges))
