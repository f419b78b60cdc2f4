from __future__ import annotations

import numpy as np
import pandas as pd

from district.errors import Finding
from district.intake.cleaned import Told
from district.intake.devices import Device
from district.intake.tallies import Tally
from district.intake.together import put_together
from district.schema.columns import empty
from district.schema.kept import RATE_DAYS
from tests.intake.test_spells import frame, part

HOUR_US = 3_600_000_000


def nothing(_: object) -> pd.DataFrame:
    raise AssertionError("no premises stood empty")


def test_a_defect_in_many_parts_is_one_finding() -> None:
    told = Told(
        findings=(Finding("note", "a.csv", "row 2", got="x"),) * 2,
        tallies=(("M", Tally("below", 1, ("one",))), ("M", Tally("below", 2, ("two", "three")))),
        disorder=(("a.csv", "M", 1, 9), ("a.csv", "M", 1, 9)),
    )
    devices = {"M": Device("M", "register", "meter", 1.0)}
    spells = frame(part(0), part(100))
    quality, findings = put_together(spells, empty(RATE_DAYS), told, devices, nothing)
    assert quality["device_id"].tolist() == ["M"]
    assert [(f.place, f.got) for f in findings] == [
        ("meter M", "times that run backwards in 2 places"),
        ("row 2", "x"),
        ("meter M", "3 readings below the one before (one, two, three)"),
    ]


def test_counts_of_all_parts_tell_another_kind_and_a_walking_clock() -> None:
    steps = {"moved_count": 40, "near_count": 100, "steps_count": 100, "off_s": 100.0}
    steps["readings_count"] = 101
    spells = frame(*(part(n, later_count=100, falls_count=15, **steps) for n in (0, 100)))
    devices = {"M": Device("M", "register", "meter", 1.0)}
    _, findings = put_together(spells, empty(RATE_DAYS), Told(), devices, nothing)
    assert [f.got for f in findings] == [
        "values that fall 30 times and rise 50 times",
        "a reading every 3601 s, so that the seconds walk",
    ]


def test_a_slow_meter_at_the_edges_of_an_empty_house() -> None:
    spans = ((0, 480 * HOUR_US),)
    devices = {"M": Device("M", "register", "meter", 1.0, empty=spans, resolution_m3=1.0)}
    flows = pd.DataFrame(
        {
            "device_id": "M",
            "start_utc": pd.to_datetime([0, 240], unit="h", utc=True),
            "end_utc": pd.to_datetime([240, 480], unit="h", utc=True),
            "volume_m3": [0.0, 1.0],
        }
    )
    spells = frame(part(0, resolution_m3=1.0, known_m3=1.0, known_h=480.0))
    _, (found,) = put_together(spells, empty(RATE_DAYS), Told(), devices, lambda _: flows)
    assert found.got == (
        "1.0\xa0m³ (0.2 to 1.8) in 20 days while the premises were empty, 1970-01-01 to "
        "1970-01-21: 0.035\xa0L/min (0.007 to 0.063)"
    )
    assert np.isnan(devices["M"].error_share)
