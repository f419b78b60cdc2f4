"""Findings about records that are short, silent or cleaned."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pandas as pd
import pytest

from district.intake.devices import Device
from district.intake.lost import flagged, missing, silent
from district.schema.stored import DEVICE_QUALITY

DEVICES = {name: Device(name, "register", "meter", 1.0) for name in ("M1", "M2", "M10")}


def quality(*rows: dict[str, Any]) -> pd.DataFrame:
    counts = {
        f"{q}_count": 0.0 for q in ("gap", "spike", "stuck", "reset", "negative", "impossible")
    }
    usual = {"kind": "register", "source": "a.csv", "expected_count": 100.0, "missing_share": 0.0}
    return pd.DataFrame([usual | counts | row for row in rows]).reindex(
        columns=list(DEVICE_QUALITY.names())
    )


def test_flaws_are_told_once_a_file_in_the_order_of_ids() -> None:
    table = quality(
        {"device_id": "M1", "spike_count": 2.0},
        {"device_id": "M10", "spike_count": 1.0, "source": "readings/zone_*.csv"},
        {"device_id": "M2", "spike_count": 1.0, "stuck_count": 1.0, "reset_count": 1.0},
    )
    assert [f.sentence() for f in flagged(table, DEVICES)] == [
        "a.csv, meters M1 and M2: got 3 readings far beyond all others of the same device, "
        "expected none. Nothing need be done; they are left out.",
        "a.csv, meter M2: got 1 reading of a value that stood still for hours, expected none. "
        "Nothing need be done; it is left out.",
        "readings/zone_*.csv, meter M10: got 1 reading far beyond all others of the same device, "
        "expected none. Nothing need be done; it is left out.",
    ]


@pytest.mark.parametrize(("lost", "told"), [(0.05, []), (0.06, ["6 % missing"])])
def test_a_few_missing_readings_are_not_worth_a_word(lost: float, told: list[str]) -> None:
    table = quality({"device_id": "M1", "missing_share": lost})
    assert [f.got for f in missing(table, DEVICES)] == told


def test_a_short_record_has_no_share_missing() -> None:
    short = {"device_id": "M1", "missing_share": 0.9, "expected_count": 10.0}
    assert missing(quality(short), DEVICES) == []


def test_a_device_without_readings_is_told_unless_its_unit_is(
    inputs_of: Callable[..., Any],
) -> None:
    devices = DEVICES | {"M3": Device("M3", "register", "meter", math.nan)}
    table = quality({"device_id": "M1"}, {"device_id": "M2"})
    (finding,) = silent(table, devices, inputs_of([]))
    assert finding.sentence() == (
        "meters.gpkg, meter M10: got no readings, expected readings in one of the reading files. "
        "Add its readings, or correct its id."
    )
