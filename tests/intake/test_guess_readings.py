from __future__ import annotations

import pandas as pd
import pytest

from district.intake.guess_readings import Layout, guess_layout

TIMES = [f"2025-03-01 {h:02d}:00" for h in range(12)]
DEVICES = {"M1": "", "M2": "electromagnetic", "P1": "pressure"}
RISING = [100 + 2 * n for n in range(12)]
WAVE = [3.5, 4.1, 2.2, 5.0, 4.4, 3.3, 2.1, 4.9, 5.2, 3.3, 2.8, 4.0]


def layout(frame: pd.DataFrame, file: str = "x.csv") -> Layout:
    found = guess_layout(frame, file=file, devices=DEVICES)
    assert isinstance(found, Layout), found
    return found


def columns(found: Layout) -> dict[str, str]:
    return {c.ours: c.theirs for c in found.columns}


def test_a_row_a_reading_is_long() -> None:
    frame = pd.DataFrame(
        {"Zeit": TIMES * 2, "Nr": ["M1"] * 12 + ["P1"] * 12, "Flow": [str(v) for v in RISING] * 2}
    )
    before = frame.copy()
    found = layout(frame)
    assert (found.layout, found.sureness) == ("long", "sure")
    assert columns(found) == {"device_id": "Nr", "time": "Zeit", "value": "Flow"}
    assert found.timezone == found.stamp == ""
    pd.testing.assert_frame_equal(frame, before)


def test_a_column_a_device_is_wide() -> None:
    found = layout(pd.DataFrame({"time": TIMES, "M1": RISING, "M2 (l/s)": WAVE}))
    assert (found.layout, found.sureness) == ("wide", "sure")
    assert columns(found) == {"time": "time", "M1": "M1", "M2": "M2 (l/s)"}


def test_a_file_named_after_its_meter() -> None:
    frame = pd.DataFrame({"time": TIMES, "value": WAVE})
    assert layout(frame, "M2.csv").layout == "long"
    held = layout(frame, "export_M2_2025.csv")
    assert (held.layout, columns(held)["M2"]) == ("wide", "value")


def test_one_column_of_no_known_meter_is_unsure() -> None:
    found = layout(pd.DataFrame({"time": TIMES, "value": WAVE}), "logger.csv")
    assert found.sureness == "unsure"


def test_ids_that_no_layer_knows_are_unsure() -> None:
    frame = pd.DataFrame({"time": TIMES, "meter": ["Q"] * 12, "value": WAVE})
    assert layout(frame).sureness == "unsure"


@pytest.mark.parametrize(
    ("times", "heading", "timezone"),
    [
        (TIMES, "time_utc", "UTC"),
        ([f"{t}+01:00" for t in TIMES], "time", "own"),
        (list(pd.to_datetime(TIMES, utc=True)), "time", "own"),
        (TIMES, "time", ""),
    ],
)
def test_the_clock_is_told_by_the_file_or_not_at_all(
    times: list[object], heading: str, timezone: str
) -> None:
    assert layout(pd.DataFrame({heading: times, "M1": RISING})).timezone == timezone


@pytest.mark.parametrize(
    ("heading", "stamp"), [("interval start", "start"), ("period end", "end"), ("time", "")]
)
def test_the_stamp_is_told_by_the_heading_or_not_at_all(heading: str, stamp: str) -> None:
    assert layout(pd.DataFrame({heading: TIMES, "M1": RISING})).stamp == stamp


def test_values_that_do_not_suit_the_meter_are_told() -> None:
    doubtful = layout(pd.DataFrame({"time": TIMES, "M1": WAVE, "M2": WAVE}))
    assert doubtful.doubt.startswith("M1: values that rise and fall")
    assert "M2" not in doubtful.doubt
    assert "values only rise" in layout(pd.DataFrame({"time": TIMES, "M1": RISING})).values
    assert layout(pd.DataFrame({"time": TIMES, "M1": RISING})).doubt == ""


@pytest.mark.parametrize(
    ("rows", "why"),
    [
        ({"a": ["x", "y"], "b": [1, 2]}, "no column of it can be read as times"),
        ({"time": TIMES[:2], "note": ["x", "y"]}, "no column of it holds numbers"),
        ({"Hour": ["00:15", "00:30"], "V": [1, 2]}, 'times of day stand in "Hour", and no column'),
        ({"meter": ["M1", "M2"], "laid": TIMES[:2], "size": [1, 2]}, "a list of them"),
        ({"time": TIMES[:2], "q": [1, 2], "r": [1, 2]}, "several columns of numbers"),
    ],
)
def test_what_is_no_reading_file_says_why(rows: dict[str, list[object]], why: str) -> None:
    found = guess_layout(pd.DataFrame(rows), file="x.csv", devices=DEVICES)
    assert isinstance(found, str)
    assert why in found


def test_a_rate_beside_a_register_is_named() -> None:
    devices = {"M1": "register", "M2": "electromagnetic"}
    frame = pd.DataFrame({"meter": ["M1"] * 12, "time": TIMES, "Register": RISING, "Flow": WAVE})
    found = guess_layout(frame, file="x.csv", devices=devices)
    assert isinstance(found, Layout)
    assert columns(found) == {
        "device_id": "meter",
        "time": "time",
        "value": "Register",
        "rate": "Flow",
    }
    other = guess_layout(frame.assign(meter="M2"), file="x.csv", devices=devices)
    assert isinstance(other, Layout)
    assert "rate" not in columns(other)


def test_two_travel_times_are_named() -> None:
    frame = pd.DataFrame(
        {"meter": ["M2"] * 12, "time": TIMES, "T up": [135.2] * 12, "T down": [135.1] * 12}
    )
    assert columns(layout(frame)) == {
        "device_id": "meter",
        "time": "time",
        "up_us": "T up",
        "down_us": "T down",
    }


def test_a_date_and_a_time_of_day_in_two_columns() -> None:
    days, hours = ["01.03.2025"] * 12, [f"{h}:00" for h in range(12)]
    found = layout(pd.DataFrame({"Datum": days, "Uhrzeit": hours, "M1 [m3]": RISING}))
    wanted = {"date": "Datum", "time_of_day": "Uhrzeit", "M1": "M1 [m3]"}
    assert (found.layout, columns(found)) == ("wide", wanted)
    assert found.values.endswith("; in m3 by its heading, which is used")


def test_a_sheet_named_after_its_meter() -> None:
    frame = pd.DataFrame({"time": TIMES, "Flow (l/s)": WAVE})
    found = guess_layout(frame, file="book.xlsx", devices=DEVICES, sheet="M2")
    assert isinstance(found, Layout)
    assert (found.layout, columns(found)) == ("long", {"time": "time", "value": "Flow (l/s)"})


def test_units_below_the_heading_are_told() -> None:
    frame = pd.DataFrame({"time": TIMES, "M2": WAVE})
    found = guess_layout(frame, file="x.csv", devices=DEVICES, units={"M2": "l/s"})
    assert isinstance(found, Layout)
    assert "in l/s by its heading" in found.values


def test_travel_times_of_the_meter_a_file_is_named_after() -> None:
    frame = pd.DataFrame({"Zeit": TIMES, "Laufzeit auf [ns]": WAVE, "Laufzeit ab [ns]": WAVE})
    found = layout(frame, "M2_Logger_1.csv")
    assert (found.layout, found.sureness) == ("long", "likely")
    assert columns(found) == {
        "time": "Zeit",
        "up_ns": "Laufzeit auf [ns]",
        "down_ns": "Laufzeit ab [ns]",
    }
