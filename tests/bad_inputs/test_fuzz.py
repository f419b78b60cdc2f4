"""Whatever stands in district.toml or in a file of readings: findings, and no other failure.

The cases are the same at every run. `DISTRICT_FUZZ=10` in the environment draws new ones instead,
ten times as many.
"""

from __future__ import annotations

import io
import os
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from hypothesis import HealthCheck, example, given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from district import intake, opening
from district.errors import DistrictError
from district.network import Network, build_network
from district.pipeline import check_folder
from district.results import Inputs
from district.settings import Readings as Kind
from district.settings import Settings, read_settings
from tests.bad_inputs import odd
from tests.bad_inputs.small_folder import SETTINGS, make_folder

COUNTS = {
    "settings": 1150, "settings bytes": 250, "settings through every check": 50,
    "texts": 200, "damaged texts": 50, "books": 60, "damaged books": 50,
    "parquets": 90, "damaged parquets": 50, "readings through every check": 50,
}  # fmt: skip
_AGAIN = int(os.environ.get("DISTRICT_FUZZ", "0"))


def cases(what: str) -> Callable[[Any], Any]:
    """How many cases of this kind are tried, always the same ones unless new ones are asked for."""
    return hypothesis_settings(
        max_examples=COUNTS[what] * max(_AGAIN, 1),
        derandomize=not _AGAIN,
        database=None,
        deadline=None,
        suppress_health_check=[
            HealthCheck.function_scoped_fixture,
            HealthCheck.too_slow,
            HealthCheck.data_too_large,
        ],
    )


def test_there_are_two_thousand_cases_and_more() -> None:
    assert sum(COUNTS.values()) >= 2000
    assert sum(n for what, n in COUNTS.items() if "every check" in what) >= 100


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_folder(tmp_path_factory.mktemp("fuzz") / "small")


@pytest.fixture(scope="module")
def inputs(folder: Path) -> Inputs:
    return intake.read_layers(folder, Settings())


@pytest.fixture(scope="module")
def network(inputs: Inputs) -> Network:
    return build_network(inputs, settings=Settings())


def told(folder: Path) -> None:
    """The check gives sentences, or raises an error of ours with lines; nothing else."""
    try:
        lines = [f.sentence() for f in check_folder(folder)]
    except DistrictError as error:
        lines = list(error.lines())
        assert lines
    assert all(line.strip() and "\n" not in line for line in lines)


def read(folder: Path, inputs: Inputs, kind: Kind, suffix: str, raw: bytes) -> None:
    """Reading a folder with this file alone gives findings, and tables of one length."""
    place = folder.parent / "alone"
    shutil.rmtree(place, ignore_errors=True)
    (place / "readings").mkdir(parents=True)
    (place / f"readings/a.{suffix}").write_bytes(raw)
    found = intake.read_readings(place, Settings(readings=(kind,)), inputs)
    assert all(f.sentence().strip() and "\n" not in f.sentence() for f in found.findings)
    assert found.intervals["end_utc"].ge(found.intervals["start_utc"]).all()
    assert found.samples["time_utc"].notna().all()


@cases("settings")
@example(text='[[readings]]\nfiles = "**x"')
@example(text='[[readings]]\nfiles = "/"')
@example(text=f'[layers.pipes]\nfile = "{"y" * 300}"')
@example(text="[pressure]\nexponent = 1e300")
@given(text=odd.settings_texts)
def test_any_text_as_settings(tmp_path: Path, text: str) -> None:
    raw = text.encode("utf-8", "surrogatepass")
    _settings(tmp_path, raw)


@cases("settings bytes")
@given(raw=st.binary(max_size=60) | odd.damaged(SETTINGS.encode()))
def test_any_bytes_as_settings(tmp_path: Path, raw: bytes) -> None:
    _settings(tmp_path, raw)


def _settings(folder: Path, raw: bytes) -> None:
    (folder / "district.toml").write_bytes(raw)
    lines = ("nothing wrong",)
    try:
        read_settings(folder)
    except DistrictError as error:
        lines = error.lines()
    assert lines
    assert all(line.strip() and "\n" not in line for line in lines)


@cases("settings through every check")
@example(text='[[readings]]\nfiles = "**x"')
@example(text='[[readings]]\nfiles = "/"')
@example(text=f'[layers.pipes]\nfile = "{"y" * 300}"')
@example(text="[pressure]\nexponent = 1e300")
@given(text=odd.settings_texts)
def test_any_settings_through_every_check(folder: Path, text: str) -> None:
    (folder / "district.toml").write_text(text, encoding="utf-8", errors="surrogatepass")
    told(folder)


@cases("texts")
@example(
    raw=b"time,MA,PL1\n2025-03-10 00:00,1,2\n",
    kind=Kind(files="readings/*", layout="wide", columns={"value": "MA"}),
)
@given(raw=odd.texts() | st.binary(max_size=80), kind=odd.kinds)
def test_any_text_of_readings(folder: Path, inputs: Inputs, raw: bytes, kind: Kind) -> None:
    read(folder, inputs, kind, "csv", raw)


_GOOD = pd.DataFrame(
    {
        "device_id": "MA",
        "time": pd.date_range("2025-03-10", periods=40, freq="h"),
        "value": [round(1.5 + n % 7 / 10, 1) for n in range(40)],
    }
)


def _written(way: str) -> bytes:
    kept = io.BytesIO()
    if way == "csv":
        return _GOOD.to_csv(index=False).encode()
    if way == "xlsx":
        _GOOD.to_excel(kept, index=False)
    else:
        _GOOD.to_parquet(kept, index=False)
    return kept.getvalue()


@cases("damaged texts")
@given(raw=odd.damaged(_written("csv")), kind=odd.kinds)
def test_a_damaged_text_of_readings(folder: Path, inputs: Inputs, raw: bytes, kind: Kind) -> None:
    read(folder, inputs, kind, "csv", raw)


@cases("books")
@given(raw=odd.books(), kind=odd.kinds)
def test_any_workbook_of_readings(folder: Path, inputs: Inputs, raw: bytes, kind: Kind) -> None:
    read(folder, inputs, kind, "xlsx", raw)


@cases("damaged books")
@given(raw=odd.damaged(_written("xlsx")) | st.binary(max_size=60), kind=odd.kinds)
def test_a_damaged_workbook(folder: Path, inputs: Inputs, raw: bytes, kind: Kind) -> None:
    read(folder, inputs, kind, "xlsx", raw)


@cases("parquets")
@given(raw=odd.parquets(), kind=odd.kinds)
def test_any_parquet_of_readings(folder: Path, inputs: Inputs, raw: bytes, kind: Kind) -> None:
    read(folder, inputs, kind, "parquet", raw)


@cases("damaged parquets")
@given(raw=odd.damaged(_written("parquet")) | st.binary(max_size=60), kind=odd.kinds)
def test_a_damaged_parquet(folder: Path, inputs: Inputs, raw: bytes, kind: Kind) -> None:
    read(folder, inputs, kind, "parquet", raw)


@cases("readings through every check")
@given(rows=st.lists(odd.rows, min_size=1, max_size=30))
def test_any_readings_through_every_check(
    folder: Path,
    inputs: Inputs,
    network: Network,
    monkeypatch: pytest.MonkeyPatch,
    rows: list[list[str]],
) -> None:
    # The layers are the same in every case: read and built once.
    monkeypatch.setattr(intake, "read_layers", lambda *_: inputs)
    monkeypatch.setattr(opening, "build_network", lambda *_, **__: network)
    (folder / "district.toml").write_text('[[readings]]\nfiles = "readings/zones.csv"\n')
    text = "\n".join(["device_id,time,value", *(",".join(r) for r in rows)])
    (folder / "readings/zones.csv").write_text(text, encoding="utf-8", errors="surrogatepass")
    told(folder)
