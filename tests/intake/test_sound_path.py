from __future__ import annotations

import math
from types import SimpleNamespace
from typing import Any

import pytest

from district.errors import Finding
from district.intake.sound_path import SoundPath, sound_path


def row(**more: Any) -> SimpleNamespace:
    usual = {
        "meter_id": "M",
        "kind": "transit_time",
        "path_length_mm": 200.0,
        "path_angle_deg": 45.0,
        "bore_mm": 100.0,
        "profile_factor": math.nan,
    }
    return SimpleNamespace(**{**usual, **more})


def test_a_path_in_metres() -> None:
    found = sound_path(row(profile_factor=0.94), math.nan, "meters.gpkg", [])
    assert found == SoundPath(0.2, 45.0, 0.1, 0.94)


def test_the_pipe_lends_its_diameter() -> None:
    found = sound_path(row(bore_mm=math.nan), 150.0, "meters.gpkg", [])
    assert found is not None
    assert found.bore_m == 0.15


@pytest.mark.parametrize(("lacking", "pipe_mm"), [("path_angle_deg", 100.0), ("bore_mm", math.nan)])
def test_what_it_lacks_is_an_error(lacking: str, pipe_mm: float) -> None:
    findings: list[Finding] = []
    sound_path(row(**{lacking: math.nan}), pipe_mm, "meters.gpkg", findings)
    assert [(f.severity, f.column) for f in findings] == [("error", lacking)]


def test_without_a_path_length_readings_are_flows() -> None:
    assert sound_path(row(path_length_mm=math.nan), 100.0, "m", []) is None
    assert sound_path(row(kind="electromagnetic"), 100.0, "m", []) is None
