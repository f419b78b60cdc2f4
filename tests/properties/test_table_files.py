"""One truth, written as loggers and people write it, is one set of readings."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import openpyxl
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from district.intake import read_layers, read_readings
from district.intake.tables_in import tables_in
from district.intake.tabular import read_parts, read_table
from district.intake.writing import how_written
from district.results import Readings
from district.settings import read_settings
from tests.bad_inputs.small_folder import SETTINGS, make_folder
from tests.examples import examples

Row = tuple[str, datetime, float]


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> Readings:
    return read_folder(make_folder(tmp_path_factory.mktemp("plain") / "small"))


def read_folder(folder: Path) -> Readings:
    said = read_settings(folder)
    return read_readings(folder, said, read_layers(folder, said))


def truth(folder: Path) -> list[Row]:
    rows = pd.read_csv(folder / "readings" / "zones.csv", parse_dates=["time"])
    return [(r.device_id, r.time.to_pydatetime(), r.value) for r in rows.itertuples()]


def assert_same(found: Readings, expected: Readings) -> None:
    assert found.findings == ()
    pd.testing.assert_frame_equal(found.intervals, expected.intervals, rtol=1e-9)
    pd.testing.assert_frame_equal(found.samples, expected.samples)


def replaced(folder: Path, more: str, name: str) -> None:
    (folder / "readings" / "zones.csv").unlink()
    text = SETTINGS.replace('files = "readings/zones.csv"', f'files = "readings/{name}"\n{more}')
    (folder / "district.toml").write_text(text, encoding="utf-8")


ABOVE = ["Überwachung;Keller", "Serial number;12345", "Exported on;2025-03-13 08:00", ""]
BELOW = ["", "Total;;99", "Ende der Daten"]


@given(
    above=st.lists(st.sampled_from(ABOVE), max_size=5),
    below=st.sampled_from([[], BELOW[:2], BELOW[1:], BELOW]),
    separator=st.sampled_from(";\t|"),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "cp1252"]),
    day=st.sampled_from(["%Y-%m-%d", "%d.%m.%Y", "%d/%m/%Y", "%m/%d/%Y"]),
    split=st.booleans(),
    units=st.sampled_from(["none", "heading", "row"]),
    comma=st.booleans(),
    part_rows=st.integers(1, 200),
)
@settings(max_examples=examples(8), deadline=None)
def test_a_text_file_in_many_dresses(
    above: list[str],
    below: list[str],
    separator: str,
    encoding: str,
    day: str,
    split: bool,
    units: str,
    comma: bool,
    part_rows: int,
    plain: Readings,
) -> None:
    with TemporaryDirectory() as place:
        folder = make_folder(Path(place) / "small")
        # Only the electromagnetic meter is in the file: the other counts pulses.
        rows = [r for r in truth(folder) if r[0] == "MA"]
        others = [f"MB,{t:%Y-%m-%d %H:%M},{v:.0f}" for d, t, v in truth(folder) if d == "MB"]
        (folder / "readings" / "pulses.csv").write_text(
            "\n".join(["device_id,time,value", *others]) + "\n"
        )
        clock = ["Date", "Time"] if split else ["time"]
        # A litre a second is 3.6 cubic metres an hour, so that the file's unit must be heard.
        said = "l/s" if units != "none" else ""
        heading = ["device_id", *clock, f"value [{said}]" if units == "heading" else "value"]
        lines = [*above, separator.join(heading)]
        if units == "row":
            lines.append(separator.join(["", *("-" for _ in clock), said]))
        for device, time, value in rows:
            when = [f"{time:{day}}", f"{time:%H:%M}"]
            number = f"{value:.2f}".replace(".", ",") if comma else f"{value:.2f}"
            lines.append(separator.join([device, *(when if split else [" ".join(when)]), number]))
        lines += below
        text = "\n".join(line.replace(";", separator) for line in lines) + "\n"
        (folder / "readings" / "logger.csv").write_bytes(text.encode(encoding))
        more = '[[readings]]\nfiles = "readings/pulses.csv"'
        replaced(folder, more, "logger.csv")
        assert_same(read_folder(folder), plain)
        path = folder / "readings" / "logger.csv"
        (shape,) = tables_in(path).shapes
        whole = read_table(path)
        joined = pd.concat(list(read_parts(path, shape, rows=part_rows)))
        pd.testing.assert_frame_equal(joined.loc[whole.index, whole.columns], whole)
        assert set(how_written(path, shape, rows=part_rows).layouts) <= {"Date", "time"}


def book(folder: Path, sheets: dict[str, list[list[Any]]]) -> None:
    written = openpyxl.Workbook()
    written.active.append(["Readings of 2025, by hand"])
    for name, rows in sheets.items():
        sheet = written.create_sheet(name)
        for row in rows:
            sheet.append(row)
    # The first sheet holds a title only, and is passed over with a note unless hidden.
    written.active.sheet_state = "hidden"
    written.active = 1
    written.save(folder / "readings" / "book.xlsx")


def test_a_sheet_a_meter(plain: Readings, tmp_path: Path) -> None:
    folder = make_folder(tmp_path / "small")
    sheets: dict[str, list[list[Any]]] = {"MA": [["Zone meter"], []], "MB": []}
    for device, time, value in truth(folder):
        if not any("value" in row for row in sheets[device]):
            sheets[device].append([None, "time", "value"])
        sheets[device].append([None, time, value])
    book(folder, sheets)
    replaced(folder, "", "book.xlsx")
    assert_same(read_folder(folder), plain)


def test_a_sheet_a_day_with_date_and_time_of_day(plain: Readings, tmp_path: Path) -> None:
    folder = make_folder(tmp_path / "small")
    sheets: dict[str, list[list[Any]]] = {}
    for device, time, value in truth(folder):
        rows = sheets.setdefault(f"{time:%d %B}", [["", "Datum", "Uhrzeit", "value"]])
        rows.append([device, date(time.year, time.month, time.day), time.time(), value])
    for rows in sheets.values():
        rows[0][0] = "device_id"
    book(folder, sheets)
    replaced(folder, 'columns = { date = "Datum", time_of_day = "Uhrzeit" }', "book.xlsx")
    assert_same(read_folder(folder), plain)


def test_midnight_as_the_end_of_its_day(plain: Readings, tmp_path: Path) -> None:
    folder = make_folder(tmp_path / "small")
    path = folder / "readings" / "zones.csv"
    text = path.read_text()
    for day in (11, 12, 13):
        text = text.replace(f"2025-03-{day} 00:00", f"2025-03-{day - 1} 24:00")
    path.write_text(text)
    assert_same(read_folder(folder), plain)
