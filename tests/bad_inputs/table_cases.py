"""Broken table files as loggers and people write them, and the sentence each must get."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import openpyxl

from tests.bad_inputs.breakers import Breaker, both, replaced
from tests.bad_inputs.cases import Case
from tests.bad_inputs.small_folder import SETTINGS

_ZONES = "readings/zones.csv"
_OTHERS = "readings/others.csv"
Lines = Callable[[list[str]], list[str]]


def _lines(file: str, change: Lines) -> Breaker:
    def write(folder: Path) -> None:
        lines = (folder / file).read_text().splitlines()
        (folder / file).write_text("\n".join(change(lines)) + "\n")

    return write


def _headed(file: str, heading: str, *more: str) -> Breaker:
    return _lines(file, lambda lines: [heading, *more, *lines[1:]])


def _split(clock: Callable[[str], str], heading: str = "device_id,Date,Time,value") -> Lines:
    """Time in two columns, the time of day changed on the way."""

    def change(lines: list[str]) -> list[str]:
        rows = [line.split(",") for line in lines[1:]]
        return [heading, *(f"{d},{t[:10]},{clock(t[11:])},{v}" for d, t, v in rows)]

    return change


def _book(change: Callable[[openpyxl.Workbook], None], sheet: str = "") -> Breaker:
    """The zone meters as a workbook, a sheet a meter, and what is wrong with it."""

    def write(folder: Path) -> None:
        book = openpyxl.Workbook()
        book.remove(book.active)
        for line in (folder / _ZONES).read_text().splitlines()[1:]:
            device, time, value = line.split(",")
            if device not in book.sheetnames:
                book.create_sheet(device).append(["time", "value"])
            book[device].append([time, float(value)])
        change(book)
        book.save(folder / "readings" / "zones.xlsx")
        (folder / _ZONES).unlink()
        line = f'files = "readings/zones.xlsx"\nsheet = "{sheet}"'
        replaced("district.toml", 'files = "readings/zones.csv"', line)(folder)

    return write


def _notes(book: openpyxl.Workbook) -> None:
    book.create_sheet("Notes").append(["Read by hand"])


def _bad_cell(book: openpyxl.Workbook) -> None:
    book["MB"]["B7"] = "unreadable"


def _strange(book: openpyxl.Workbook) -> None:
    book["MB"].title = "Cellar"


def _renamed(book: openpyxl.Workbook) -> None:
    book["MB"]["A1"] = "when"


def _works_book(folder: Path) -> None:
    book = openpyxl.Workbook()
    book.active.append(["Jobs"])
    (folder / "works.csv").unlink()
    book.save(folder / "works.xlsx")
    more = '\n[records.works]\nfile = "works.xlsx"\nsheet = "2025"\n'
    (folder / "district.toml").write_text(SETTINGS + more)


_LOGGER = ("Logger,7", "Exported on,2025-03-13 08:00", "")


def _in_doubt(lines: list[str]) -> list[str]:
    """The tenth to the thirteenth as the first to the fourth: nothing tells days from months."""
    days = {f"2025-03-1{n}": f"03/0{n + 1}/2025" for n in range(4)}
    split = _split(lambda t: t)(lines)
    for old, new in days.items():
        split = [line.replace(old, new) for line in split]
    return split


CASES = (
    Case(
        "a bad value below other lines keeps its row number",
        _lines(_OTHERS, lambda rows: [*_LOGGER, *rows[:3], rows[3].replace(",0", ",damp")]),
        'readings/others.csv, row 7, column WF1: got "damp", expected a number. Correct the value '
        "or leave it empty; it is left out.",
    ),
    Case(
        "heading twice over",
        _lines(_ZONES, lambda lines: ["Site,Upper,", *lines[:3], lines[0], *lines[3:]]),
        "readings/zones.csv, device device_id: got 1 reading of a device that is on no layer, "
        "expected a meter_id of the meters or a sensor_id of the sensors. Correct the id, or add "
        "the device to its layer; its readings are left out.",
    ),
    Case(
        "unit of another quantity in a heading",
        _headed(_OTHERS, "time,CM1 (m3/h),PL1,WF1"),
        "readings/others.csv, meter CM1, column CM1 (m3/h): got values in m3/h, expected a volume "
        "(m3, l, Ml, gal, ft3), as it is a register meter. Correct the unit in the file, or the "
        "meter's kind; its readings there are left out.",
    ),
    Case(
        "unit of another quantity in a row of units",
        _headed(_OTHERS, "time,CM1,PL1,WF1", "yyyy-mm-dd hh:mm,m3,l/s,"),
        "readings/others.csv, sensor PL1, column PL1: got values in l/s, expected a pressure "
        "(m, bar, kPa, psi, ft), as it is a pressure sensor. Correct the unit in the file, or the "
        "sensor's kind; its readings there are left out.",
    ),
    Case(
        "another unit in the heading than in the layer",
        _headed(_ZONES, "device_id,time,value (m3/h)"),
        "readings/zones.csv, meter MA, column value (m3/h): got values in m3/h, expected l/s, its "
        "reading_unit. Correct the one that is wrong; the file's unit is used.",
    ),
    Case(
        "time of day that is none",
        _lines(_ZONES, _split(lambda t: t.replace("03:00", "25:61"))),
        'readings/zones.csv, rows 8, 9, 56 and 3 more, column Date and Time: got "2025-03-10 '
        '25:61:00", "2025-03-11 25:61:00", "2025-03-12 25:61:00", expected a time as YYYY-MM-DD '
        "HH:MM. Correct the time; the reading is left out.",
    ),
    Case(
        "time of day left empty",
        _lines(_ZONES, lambda lines: [
            line.replace("MA,2025-03-10,03:00", "MA,2025-03-10,")
            for line in _split(lambda t: t)(lines)
        ]),
        'readings/zones.csv, row 8, column Date and Time: got "2025-03-10 (no time of day)", '
        "expected a time as YYYY-MM-DD HH:MM. Correct the time; the reading is left out.",
    ),
    Case(
        "date left empty",
        _lines(_ZONES, lambda lines: [
            line.replace("MA,2025-03-10,03:00", "MA,,03:00") for line in _split(lambda t: t)(lines)
        ]),
        'readings/zones.csv, row 8, column Date and Time: got "(no date) 03:00:00", expected a '
        "time as YYYY-MM-DD HH:MM. Correct the time; the reading is left out.",
    ),
    Case(
        "column of dates that is not there",
        both(
            _lines(_ZONES, _split(lambda t: t, "device_id,Tag,Uhr,value")),
            replaced("district.toml",
                'files = "readings/zones.csv"',
                'files = "readings/zones.csv"\ncolumns = { date = "Datum", time_of_day = "Uhr" }',
            ),
        ),
        "readings/zones.csv, column Datum: got no such column (the file has device_id, Tag, Uhr, "
        "value), expected the column named as date in district.toml. Correct it in columns under "
        "[[readings]].",
    ),
    Case(
        "column of times of day that is not named",
        both(
            _lines(_ZONES, _split(lambda t: t, "device_id,Tag,Uhr,value")),
            replaced("district.toml",
                'files = "readings/zones.csv"',
                'files = "readings/zones.csv"\ncolumns = { date = "Tag" }',
            ),
        ),
        "readings/zones.csv: got no column of times of day beside that of dates (the file has "
        "device_id, Tag, Uhr, value), expected a date and a time of day. Name yours as "
        "time_of_day in columns under [[readings]] in district.toml.",
    ),
    Case(
        "time and date both named",
        replaced("district.toml",
            'files = "readings/zones.csv"',
            'files = "readings/zones.csv"\ncolumns = { date = "value", time = "time" }',
        ),
        "district.toml, readings.columns of readings/zones.csv: got a column of times and one of "
        "dates, expected either time, or date and time_of_day. Remove the one that is not so.",
    ),
    Case(
        "sheet that is not there",
        _book(lambda _: None, sheet="March"),
        'readings/zones.xlsx: got no sheet "March" (the file has MA, MB), expected the sheet named '
        "under [[readings]]. Correct sheet there in district.toml, or leave it out to read all "
        "sheets.",
    ),
    Case(
        "sheet without a table",
        _book(_notes),
        "readings/zones.xlsx, sheet Notes: got no table with times, expected a heading and a row a "
        "time. Nothing need be done; the sheet is passed over.",
    ),
    Case(
        "bad value in a sheet",
        _book(_bad_cell),
        'readings/zones.xlsx, sheet MB, row 7, column value: got "unreadable", expected a number. '
        "Correct the value or leave it empty; it is left out.",
    ),
    Case(
        "sheet with other headings",
        _book(_renamed),
        "readings/zones.xlsx, sheet MB, column time: got no such column (the file has when, "
        "value, device_id), expected a time: when it was read. Add the column, or name yours in "
        "columns under [[readings]] in district.toml.",
    ),
    Case(
        "sheet of works that is not there",
        _works_book,
        'works.xlsx: got no sheet "2025" (the file has Sheet), expected a table of what was done '
        "on the network, so that it is not taken for a leak. Correct sheet under [records.works].",
    ),
    Case(
        "sheet of no known meter",
        _book(_strange),
        "readings/zones.xlsx, sheet Cellar, column device_id: got no such column (the file has "
        "time, value), expected text: meter_id or sensor_id. Add the column, or name yours in "
        "columns under [[readings]] in district.toml.",
    ),
    Case(
        "months and days in doubt in two columns",
        _lines(_ZONES, _in_doubt),
        "readings/zones.csv, column Date and Time: got no time that can be read, expected a time "
        "as YYYY-MM-DD HH:MM. Write the times as YYYY-MM-DD HH:MM.",
    ),
)  # fmt: skip
