"""Whatever stands in district.toml or in a file of readings: findings, and no other failure."""

from __future__ import annotations

import json
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, example, given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from district import intake
from district.errors import DistrictError
from district.pipeline import check_folder
from district.results import Inputs
from district.settings import Settings, read_settings
from tests.bad_inputs.small_folder import SETTINGS, make_folder

_SEEN_ONCE = [HealthCheck.function_scoped_fixture, HealthCheck.too_slow]

_ODD = [
    '""', "0", "-1", "1e400", "nan", "inf", "true", "[]", "{}", '"\\u0000"', '"x"', '"2"', "[[1]]",
    '"02:00Z"', '"02:00"', "02:00:00", "25:00:00", "1000-01-01", "9999-12-31T23:59:59Z", "9" * 40,
    '"**"', '"**x"', '"/"', '"/*"', '"../*"', '".."', '"["', '"readings/zones.csv"', '"*"', '"m"',
    '"pipes.geojson"', '"district.toml"', '"works.csv"', '"wide"', '"Europe/London"', '"A"',
    "86400", '{pipe_id = "pipe_id"}', '{time = ""}', '{MA = "time"}', '{diameter_mm = "in"}',
    f'"{"y" * 300}"',
]  # fmt: skip
_PATHS = [
    "snap_tolerance_m", "country_group", "district", "district.name", "district.timezone",
    "layers", "layers.pipes", "layers.pipes.file", "layers.pipes.layer", "layers.pipes.columns",
    "layers.pipes.units", "layers.zones.file", "records.works.file", "records.breaks.columns",
    "readings", "night", "night.start", "night.end", "night.search_start", "night.search_end",
    "night.recent_nights", "allowances", "allowances.household.l_property_h", "allowances.x",
    "background.exponent", "background.condition_factor", "pressure.assumed_m", "pressure.exponent",
    "annual.unauthorised_share", "costs.water_currency_m3", "events.false_alarms_per_year",
    "events.smallest_l_s", "locate.hold_share", "locate.connection_snap_m", "exceptional_use",
    "'self'", "'__class__'", "'model_config'", "'a.b'",
]  # fmt: skip
_READINGS = ["files", "layout", "timezone", "stamp", "columns", "unknown"]
odd = st.sampled_from(_ODD) | st.floats().map(str) | st.text(max_size=8).map(json.dumps)
line = st.tuples(st.sampled_from(_PATHS), odd).map(" = ".join)
kind = st.dictionaries(st.sampled_from(_READINGS), odd, max_size=4).map(
    lambda given: "\n".join(["[[readings]]", *(f"{k} = {v}" for k, v in given.items())])
)
structured = st.tuples(st.lists(line, max_size=3), st.lists(kind, max_size=2)).map(
    lambda parts: "\n".join([*parts[0], *parts[1]])
)


@st.composite
def cut_and_changed(draw: st.DrawFn, text: str) -> str:
    """The text with a stretch taken out and something odd put in."""
    start = draw(st.integers(0, len(text)))
    end = draw(st.integers(start, min(len(text), start + 60)))
    return text[:start] + draw(st.text(max_size=6) | odd) + text[end:]


def _told(folder: Path) -> None:
    """The check gives sentences, or raises an error of ours with lines; nothing else."""
    try:
        lines = [f.sentence() for f in check_folder(folder)]
    except DistrictError as error:
        lines = list(error.lines())
        assert lines
    assert all(line.strip() for line in lines)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_folder(tmp_path_factory.mktemp("fuzz") / "small")


@hypothesis_settings(max_examples=100, deadline=None, suppress_health_check=_SEEN_ONCE)
@example(text='[[readings]]\nfiles = "**x"')
@example(text='[[readings]]\nfiles = "/"')
@example(text=f'[layers.pipes]\nfile = "{"y" * 300}"')
@example(text="[pressure]\nexponent = 1e300")
@given(text=structured | cut_and_changed(SETTINGS) | st.text(max_size=40))
def test_any_text_as_settings(folder: Path, text: str) -> None:
    (folder / "district.toml").write_text(text, encoding="utf-8", errors="surrogatepass")
    _told(folder)


@hypothesis_settings(max_examples=40, deadline=None)
@given(raw=st.binary(max_size=60))
def test_any_bytes_as_settings(folder: Path, raw: bytes) -> None:
    (folder / "district.toml").write_bytes(raw)
    with suppress(DistrictError):
        read_settings(folder)


_CELLS = [
    "", " ", "MA", "MB", "CM1", "WF1", "PL1", "1.5", "1,5", "-3", "1e308", "-1e308", "1e14", "nan",
    "inf", "∞", "wet", "=1+1", '"', "'", "\x00", "2025-03-10 00:00", "2025-03-10 24:00",
    "2025-03-30 02:30", "2025-10-26 02:30", "10.03.2025 00:15", "1000-01-01", "9999-12-31 23:59",
    "2025-03-10T01:00+99:99", "2025-03-10T01:00:00.5Z",
]  # fmt: skip
cell = st.sampled_from(_CELLS) | st.text(max_size=6)
moment = st.integers(0, 400).map(
    lambda quarters: (
        f"2025-03-{10 + quarters // 96:02d} {quarters % 96 // 4:02d}:{quarters % 4 * 15:02d}"
    )
)
amount = st.floats(-1e6, 1e6).map(str) | st.sampled_from(["0", "1.5", "1e14", "-1e14"])
row = st.one_of(
    st.tuples(st.sampled_from(["MA", "MB", "CM1", "PL1", "WF1"]), moment, amount).map(list),
    st.lists(cell, max_size=5),
)
heading = st.sampled_from(
    ["device_id,time,value", "time,MA,MB", "time,value", "device_id;time;value", ",,", "time", ""]
)


@st.composite
def readings(draw: st.DrawFn) -> bytes:
    head = draw(heading)
    separator = ";" if ";" in head else draw(st.sampled_from([",", ";", "\t"]))
    rows = [separator.join(r) for r in draw(st.lists(row, max_size=30))]
    text = draw(st.sampled_from(["\n", "\r\n"])).join([head, *rows])
    return text.encode(draw(st.sampled_from(["utf-8", "utf-8-sig", "utf-16"])), "surrogatepass")


def _inputs(folder: Path) -> tuple[Settings, Inputs]:
    (folder / "district.toml").write_text(SETTINGS)
    settings = read_settings(folder)
    return settings, intake.read_layers(folder, settings)


@pytest.fixture(scope="module")
def read(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Settings, Inputs]:
    folder = make_folder(tmp_path_factory.mktemp("fuzz") / "small")
    return folder, *_inputs(folder)


@hypothesis_settings(max_examples=100, deadline=None, suppress_health_check=_SEEN_ONCE)
@given(raw=readings() | st.binary(max_size=80), wide=st.booleans())
def test_any_file_of_readings(read: tuple[Path, Settings, Inputs], raw: bytes, wide: bool) -> None:
    folder, settings, inputs = read
    (folder / "readings/others.csv").write_bytes(raw)
    (folder / "readings/zones.csv").write_bytes(raw)
    layout: Any = "wide" if wide else "long"
    kinds = tuple(k.model_copy(update={"layout": layout}) for k in settings.readings)
    found = intake.read_readings(folder, settings.model_copy(update={"readings": kinds}), inputs)
    assert all(f.sentence().strip() for f in found.findings)


@hypothesis_settings(max_examples=40, deadline=None, suppress_health_check=_SEEN_ONCE)
@given(rows=st.lists(row, min_size=1, max_size=30))
def test_any_readings_through_every_check(folder: Path, rows: list[list[str]]) -> None:
    (folder / "district.toml").write_text('[[readings]]\nfiles = "readings/zones.csv"\n')
    text = "\n".join(["device_id,time,value", *(",".join(r) for r in rows)])
    (folder / "readings/zones.csv").write_text(text, encoding="utf-8", errors="surrogatepass")
    _told(folder)
