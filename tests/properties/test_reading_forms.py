"""One truth, written down in every way that meters and people write it, is read as one truth.

What a form cannot show, as less than its smallest step, is all that may be lost.
"""

from __future__ import annotations

import tempfile
from dataclasses import dataclass, replace
from functools import cache
from itertools import product
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from district import intake, store
from district.ingest import take_in
from district.results import Inputs, Reduced
from district.settings import District, Night, Settings
from district.settings import Readings as Kind
from tests.bad_inputs.small_folder import feature, write_layer

# The foot is 0.3048 m and the US gallon 231 cubic inches of 25.4 mm, both exactly.
FT3_M3 = 0.3048**3
GPM_M3_H = 231 * 0.0254**3 * 60


@dataclass(frozen=True)
class Form:
    """A kind of meter, and the unit and decimals it writes its readings in."""

    kind: str
    columns: tuple[tuple[str, object], ...]
    unit_m3: float
    """One of the unit, or one of it held for an hour."""
    decimals: int

    def step_m3(self) -> float:
        """The smallest volume of an hour it can show."""
        return float(self.unit_m3 * 10.0**-self.decimals)


FORMS = (
    Form("register", (("reading_unit", "m3"),), 1.0, 3),
    Form("register", (("reading_unit", "l"),), 0.001, 0),
    Form("register", (("reading_unit", "ft3"),), FT3_M3, 2),
    Form("pulse", (("litres_per_pulse", 1),), 0.001, 0),
    Form("pulse", (("litres_per_pulse", 10),), 0.01, 0),
    Form("pulse", (("litres_per_pulse", 100),), 0.1, 0),
    Form("electromagnetic", (("reading_unit", "l/s"),), 3.6, 4),
    Form("electromagnetic", (("reading_unit", "m3/h"),), 1.0, 3),
    Form("electromagnetic", (("reading_unit", "gpm"),), GPM_M3_H, 2),
)
# Four days over the end of summer time in each: IANA time zone database.
CLOCKS = {"Europe/London": "2025-10-24T06:00Z", "America/New_York": "2025-10-31T06:00Z"}
HOURS = 96
ENDS = ("csv", "xlsx", "parquet")
# Flow is never the same for hours: that would be a meter that stands still.
volumes = st.integers(0, 2**32 - 1).map(
    lambda seed: np.random.default_rng(seed).uniform(1.0, 12.0, HOURS)
)


def shown(form: Form, truth_m3: np.ndarray[Any, Any]) -> np.ndarray[Any, Any]:
    """What the meter shows: a register before and after every hour, else one value an hour."""
    total = np.concatenate([[0.0], np.cumsum(truth_m3)])
    if form.kind == "register":
        step = 10.0**-form.decimals
        return np.round(np.floor((700 + total) / form.unit_m3 / step) * step, form.decimals)
    if form.kind == "pulse":
        return np.diff(np.floor(total / form.unit_m3))
    return np.round(truth_m3 / form.unit_m3, form.decimals)


def inputs_of(folder: Path, kind: str, **columns: object) -> Inputs:
    """The layers of a folder that has one meter M and nothing else."""
    point = feature("Point", (7.0, 47.0), meter_id="M", role="inlet", kind=kind, **columns)
    folder.mkdir(parents=True, exist_ok=True)
    write_layer(folder, "meters", [point])
    return intake.read_layers(folder, Settings())


@cache
def described(form: Form) -> Inputs:
    """The layers of a folder with one meter of that form."""
    with tempfile.TemporaryDirectory() as folder:
        return inputs_of(Path(folder), form.kind, **dict(form.columns))


def settings_of(timezone: str, layout: str, night: Night | None = None) -> Settings:
    kind = Kind(files="readings/*", layout=layout)  # type: ignore[arg-type]
    return Settings(district=District(timezone=timezone), readings=(kind,), night=night or Night())


def write(folder: Path, ends: pd.DatetimeIndex, value: Any, *, zone: str, form: str) -> None:
    """Readings of meter M by the clock of the zone; `form` is a layout and a kind of file."""
    layout, suffix = form.split()
    local = ends.tz_convert(ZoneInfo(zone)).tz_localize(None)
    times: Any = local if suffix != "csv" else local.strftime("%Y-%m-%d %H:%M")
    frame = pd.DataFrame({"time": times, "M": value})
    if layout == "long":
        frame = frame.rename(columns={"M": "value"}).assign(device_id="M")
    path = folder / f"readings/a.{suffix}"
    path.parent.mkdir(exist_ok=True)
    if suffix == "csv":
        frame.to_csv(path, index=False)
    elif suffix == "xlsx":
        frame.to_excel(path, index=False)
    else:
        frame.to_parquet(path, index=False)


@pytest.mark.parametrize("clock", CLOCKS)
@pytest.mark.parametrize("written", [f"{a} {b}" for a, b in product(("long", "wide"), ENDS)])
@pytest.mark.parametrize("form", FORMS, ids=lambda f: f"{f.kind} {f.columns[0][1]}")
@hypothesis_settings(
    max_examples=2,
    derandomize=True,
    database=None,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(truth_m3=volumes)
def test_one_truth_in_every_form(
    tmp_path: Path, form: Form, written: str, clock: str, truth_m3: np.ndarray[Any, Any]
) -> None:
    value = shown(form, truth_m3)
    instants = pd.date_range(CLOCKS[clock], periods=HOURS + 1, freq="h", unit="us")
    stamps = instants if form.kind == "register" else instants[1:]
    write(tmp_path, stamps, value, zone=clock, form=written)
    read = intake.read_readings(tmp_path, settings_of(clock, written.split()[0]), described(form))
    assert [f for f in read.findings if f.severity != "note"] == []
    found = read.intervals
    assert list(found["start_utc"]) == list(instants[:-1])
    assert list(found["end_utc"]) == list(instants[1:])
    assert (found["quality"] == "ok").all()
    # Rounded down before and after, or once to the nearest: never off by a whole step.
    np.testing.assert_allclose(found["volume_m3"], truth_m3, rtol=0, atol=1.0001 * form.step_m3())
    assert found["volume_m3"].sum() == pytest.approx(
        truth_m3.sum(),
        abs=form.step_m3() * (1.0001 if form.kind in ("register", "pulse") else HOURS / 2),
    )


# IANA time zone database, files europe, northamerica and australasia. EU rule: the last Sundays of
# March and October at 01:00 UTC. US rule: the second Sunday of March and the first of November
# at 02:00 local time. LH rule: the first Sundays of October and April at 02:00, by half an hour.
NIGHTS = {
    # First instant of the night from 00:00 to 06:00 on its own clock, and its length.
    ("Europe/London", "2025-03-30"): ("2025-03-30T00:00Z", 5.0),
    ("Europe/London", "2025-10-26"): ("2025-10-25T23:00Z", 7.0),
    ("America/New_York", "2025-03-09"): ("2025-03-09T05:00Z", 5.0),
    ("America/New_York", "2025-11-02"): ("2025-11-02T04:00Z", 7.0),
    ("Australia/Lord_Howe", "2025-10-05"): ("2025-10-04T13:30Z", 5.5),
    ("Australia/Lord_Howe", "2025-04-06"): ("2025-04-05T13:00Z", 6.5),
}


def reduced(folder: Path, settings: Settings, inputs: Inputs) -> Reduced:
    """The readings as nights and days, by way of the store; nothing in them may be wrong."""
    place = folder / ".district"
    digests = store.digests(intake.reading_files(folder, settings))
    # Of the layers only the meter is there, which is told and does not matter here.
    alone = replace(inputs, findings=())
    found = take_in(
        folder, settings, alone, place, digests=digests, fingerprint="mark", say=lambda _: None
    )
    assert found == ()
    none = pd.DataFrame(columns=["meter_id", "upstream_cell_id", "downstream_cell_id"], dtype=str)
    return store.reduce(place, settings=settings, boundaries=none)


def half_hours(first: str, count: int) -> tuple[pd.DatetimeIndex, np.ndarray[Any, Any]]:
    """The ends of so many half hours, and a flow in L/s for each that no other has."""
    ends = pd.date_range(first, periods=count + 1, freq="30min", unit="us")[1:]
    return ends, np.round(2 + 0.01 * (37 * np.arange(count) % 151), 2)


@pytest.mark.parametrize("written", ["long csv", "wide csv", "wide xlsx"])
@pytest.mark.parametrize("kind", ["electromagnetic", "register"])
@pytest.mark.parametrize(("zone", "night"), NIGHTS)
def test_a_night_across_a_clock_change(
    tmp_path: Path, zone: str, night: str, kind: str, written: str
) -> None:
    start, length_h = NIGHTS[zone, night]
    first = pd.Timestamp(start) - pd.Timedelta(hours=30)
    ends, flow_l_s = half_hours(str(first), 150)
    value = flow_l_s
    if kind == "register":
        ends = pd.DatetimeIndex([first]).append(ends)
        value = np.round(100 + np.concatenate([[0.0], np.cumsum(flow_l_s * 1.8)]), 3)
    unit = "l/s" if kind == "electromagnetic" else "m3"
    inputs = inputs_of(tmp_path, kind, reading_unit=unit)
    settings = settings_of(
        zone,
        written.split()[0],
        Night(start="00:00", end="06:00"),  # type: ignore[arg-type]
    )
    write(tmp_path, ends, value, zone=zone, form=written)
    found = reduced(tmp_path, settings, inputs)
    flows = found.night_flows.set_index("night")
    # By hand: the half hours from 60 on are those of the night.
    of_night = flow_l_s[60 : 60 + round(2 * length_h)]
    row = flows.loc[pd.Timestamp(night)]
    assert row["window_h"] == pytest.approx(length_h)
    assert row["coverage_share"] == pytest.approx(1.0)
    assert row["flow_l_s"] == pytest.approx(of_night.mean(), abs=1e-6)
    before, after = (flows.loc[pd.Timestamp(night) + pd.Timedelta(days=d)] for d in (-1, 1))
    assert (before["window_h"], after["window_h"]) == (6.0, 6.0)
    days = found.daily_volumes.set_index("day")
    long_h = 24 + length_h - 6
    assert days.loc[pd.Timestamp(night), "volume_m3"] == pytest.approx(
        (flow_l_s[60 : 60 + round(2 * long_h)] * 1.8).sum(), abs=1e-6
    )
