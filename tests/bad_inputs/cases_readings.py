"""Reading files that are cut, foreign, badly headed or full of what no meter says."""

from __future__ import annotations

import gzip
import os
from collections.abc import Callable, Mapping
from pathlib import Path

import pandas as pd
from openpyxl import Workbook, load_workbook

from tests.bad_inputs.breakers import (
    Breaker,
    Case,
    both,
    cut,
    gone,
    in_place_of,
    raw,
    replaced,
    table,
    text,
)

_TOML = "district.toml"
_ZONES, _OTHERS = "readings/zones.csv", "readings/others.csv"
_PARQUET, _XLSX = "readings/zones.parquet", "readings/zones.xlsx"


def _typed(frame: pd.DataFrame) -> pd.DataFrame:
    return frame.assign(time=pd.to_datetime(frame["time"]), value=frame["value"].astype(float))


def _parquet(change: Callable[[pd.DataFrame], pd.DataFrame] = lambda frame: frame) -> Breaker:
    """The zones' readings as Parquet, changed."""
    return in_place_of(
        _ZONES, _PARQUET, lambda frame, path: change(_typed(frame)).to_parquet(path, index=False)
    )


def _xlsx(cells: Mapping[str, object], merged: str = "") -> Breaker:
    """The zones' readings as a workbook, some cells written over."""

    def make(frame: pd.DataFrame, path: Path) -> None:
        _typed(frame).to_excel(path, index=False)
        book = load_workbook(path)
        for cell, said in cells.items():
            book.active[cell] = said
        if merged:
            book.active.merge_cells(merged)
        book.save(path)

    return in_place_of(_ZONES, _XLSX, make)


def _chart_alone(frame: pd.DataFrame, path: Path) -> None:
    del frame
    book = Workbook()
    book.remove(book.active)
    book.create_chartsheet("Chart")
    book.save(path)


def _renamed(other: str) -> Breaker:
    """A CSV that is only called otherwise."""
    return in_place_of(_ZONES, other, lambda frame, path: frame.to_csv(path, index=False))


def _emptied_middle(folder: Path) -> None:
    said = bytearray((folder / _PARQUET).read_bytes())
    said[20:400] = bytes(380)
    (folder / _PARQUET).write_bytes(bytes(said))


def _called_csv(other: str) -> Breaker:
    def write(folder: Path) -> None:
        (folder / other).rename(folder / _ZONES)
        replaced(_TOML, other, _ZONES)(folder)

    return write


def _more_columns(file: str, heading: str, said: str) -> Breaker:
    """The same value in a further column, or several, of every row."""

    def write(folder: Path) -> None:
        first, *rows = (folder / file).read_text().splitlines()
        lines = [f"{first},{heading}", *(f"{row},{said}" for row in rows)]
        (folder / file).write_text("\n".join(lines) + "\n")

    return write


def _undecodable(folder: Path) -> None:
    (folder / "readings" / os.fsdecode(b"zones\xff.csv")).write_text("x,y\n1,2\n")
    replaced(_TOML, _ZONES, "readings/z*.csv")(folder)


def _all(column: str, said: str) -> Breaker:
    return table(_ZONES, lambda frame: frame.assign(**{column: said}))


def _counted(frame: pd.DataFrame) -> pd.DataFrame:
    since = pd.to_datetime(frame["time"]) - pd.Timestamp("1970-01-01")
    return frame.assign(time=(since // pd.Timedelta(seconds=1)).astype(str))


CASES: tuple[Case, ...] = (
    Case(
        "Parquet cut in half",
        both(_parquet(), cut(_PARQUET, 0.5)),
        _PARQUET,
        (
            "readings/zones.parquet: got a file that cannot be read as parquet, expected "
            "readings: CSV, XLSX or Parquet with a heading and a row a time. Export it "
            "again, or remove it.",
        ),
    ),
    Case(
        "Parquet without its end",
        both(_parquet(), cut(_PARQUET, 0.99)),
        _PARQUET,
        (
            "readings/zones.parquet: got a file that cannot be read as parquet, expected "
            "readings: CSV, XLSX or Parquet with a heading and a row a time. Export it "
            "again, or remove it.",
        ),
    ),
    Case(
        "Parquet with an emptied middle",
        both(_parquet(), _emptied_middle),
        _PARQUET,
        (
            "readings/zones.parquet: got a file that cannot be read as parquet, expected "
            "readings: CSV, XLSX or Parquet with a heading and a row a time. Export it "
            "again, or remove it.",
        ),
    ),
    Case(
        "Parquet without rows",
        _parquet(lambda frame: frame.iloc[:0]),
        _PARQUET,
        (
            "readings/zones.parquet: got no readings below the heading, expected readings: "
            "CSV, XLSX or Parquet with a heading and a row a time. Export it again, or "
            "remove it.",
        ),
    ),
    Case(
        "Parquet with counted times",
        _parquet(lambda frame: frame.assign(time=range(7, 7 + len(frame)))),
        _PARQUET,
        (
            "readings/zones.parquet, column time: got no time that can be read, expected a "
            "time as YYYY-MM-DD HH:MM. Write the times as YYYY-MM-DD HH:MM.",
            'readings/zones.parquet, rows 2, 3, 4 and 143 more, column time: got "7", "8", '
            '"9" and others, expected a time as YYYY-MM-DD HH:MM. Correct the time; the '
            "reading is left out.",
        ),
    ),
    Case(
        "Parquet with texts for values",
        _parquet(lambda frame: frame.assign(value="none")),
        _PARQUET,
        (
            'readings/zones.parquet, rows 2, 3, 4 and 143 more, column value: got "none", '
            "expected a number. Correct the value or leave it empty; it is left out.",
        ),
    ),
    Case(
        "Parquet with lists for values",
        _parquet(lambda frame: frame.assign(value=[[1.0]] * len(frame))),
        _PARQUET,
        (
            'readings/zones.parquet, rows 2, 3, 4 and 143 more, column value: got "[1.]", '
            "expected a number. Correct the value or leave it empty; it is left out.",
        ),
    ),
    Case(
        "a CSV called Parquet",
        _renamed(_PARQUET),
        _PARQUET,
        (
            "readings/zones.parquet: got a file that cannot be read as parquet, expected "
            "readings: CSV, XLSX or Parquet with a heading and a row a time. Export it "
            "again, or remove it.",
        ),
    ),
    Case(
        "a CSV called a workbook",
        _renamed(_XLSX),
        _XLSX,
        (
            "readings/zones.xlsx: got a file that cannot be read as xlsx, expected readings: "
            "CSV, XLSX or Parquet with a heading and a row a time. Export it again, or "
            "remove it.",
        ),
    ),
    Case(
        "a workbook called CSV",
        both(_xlsx({}), _called_csv(_XLSX)),
        _ZONES,
        (
            "readings/zones.csv: got a file that is not text, expected readings: CSV, XLSX "
            "or Parquet with a heading and a row a time. Export it again, or remove it.",
        ),
    ),
    Case(
        "Parquet called CSV",
        both(_parquet(), _called_csv(_PARQUET)),
        _ZONES,
        (
            "readings/zones.csv: got a file that is not text, expected readings: CSV, XLSX "
            "or Parquet with a heading and a row a time. Export it again, or remove it.",
        ),
    ),
    Case(
        "a workbook cut in half",
        both(_xlsx({}), cut(_XLSX, 0.5)),
        _XLSX,
        (
            "readings/zones.xlsx: got a file that cannot be read as xlsx, expected readings: "
            "CSV, XLSX or Parquet with a heading and a row a time. Export it again, or "
            "remove it.",
        ),
    ),
    Case(
        "a workbook of a chart alone",
        in_place_of(_ZONES, _XLSX, _chart_alone),
        _XLSX,
        (
            "readings/zones.xlsx: got a file that cannot be read as xlsx, expected readings: "
            "CSV, XLSX or Parquet with a heading and a row a time. Export it again, or "
            "remove it.",
        ),
    ),
    Case(
        "formulas that lead nowhere",
        _xlsx({"C2": "#REF!", "C3": "#DIV/0!", "C10": "#N/A"}),
        _XLSX,
        (
            "readings/zones.xlsx, cells C2, C3 and C10: got #REF!, #DIV/0!, #N/A, expected "
            "values, or formulas that give one. Mend the formulas; until then these cells "
            "count as empty.",
        ),
        errors=False,
    ),
    Case(
        "a device in merged cells",
        _xlsx({}, merged="A2:A5"),
        _XLSX,
        (
            "readings/zones.xlsx, row 3, column device_id: got nothing, expected a meter_id "
            "or sensor_id. Fill it in.",
            "readings/zones.xlsx, row 4, column device_id: got nothing, expected a meter_id "
            "or sensor_id. Fill it in.",
            "readings/zones.xlsx, row 5, column device_id: got nothing, expected a meter_id "
            "or sensor_id. Fill it in.",
        ),
        errors=False,
    ),
    Case(
        "words in a workbook's values",
        _xlsx({"C3": "yes", "C4": "n/a"}),
        _XLSX,
        (
            'readings/zones.xlsx, row 3, column value: got "yes", expected a number. Correct '
            "the value or leave it empty; it is left out.",
        ),
        errors=False,
    ),
    Case(
        "a time of day without a date",
        _xlsx({"B2": "00:00:00"}),
        _XLSX,
        (
            'readings/zones.xlsx, row 2, column time: got "00:00:00", expected a time as '
            "YYYY-MM-DD HH:MM. Correct the time; the reading is left out.",
        ),
        errors=False,
    ),
    Case(
        "a file of all bytes",
        raw(_ZONES, bytes(range(256)) * 20),
        _ZONES,
        (
            "readings/zones.csv: got a file that is not text, expected readings: CSV, XLSX "
            "or Parquet with a heading and a row a time. Export it again, or remove it.",
        ),
    ),
    Case(
        "a zero among the values",
        replaced(_ZONES, "MA,2025-03-10 03:00,", "MA,2025-03-10 03:00,\x00"),
        _ZONES,
        (
            "readings/zones.csv: got a file that is not text, expected readings: CSV, XLSX "
            "or Parquet with a heading and a row a time. Export it again, or remove it.",
        ),
    ),
    Case(
        "a compressed CSV",
        lambda folder: (folder / _ZONES).write_bytes(
            gzip.compress(b"device_id,time,value", mtime=0)
        ),
        _ZONES,
        (
            "readings/zones.csv: got a file that is not text, expected readings: CSV, XLSX "
            "or Parquet with a heading and a row a time. Export it again, or remove it.",
        ),
    ),
    Case(
        "an encoding of long ago",
        text(_ZONES, "device_id,time,value\n" * 99, "utf-32"),
        _ZONES,
        (
            "readings/zones.csv: got a file that is not text, expected readings: CSV, XLSX "
            "or Parquet with a heading and a row a time. Export it again, or remove it.",
        ),
    ),
    Case(
        "a file of blank lines",
        text(_ZONES, "\n\n \n"),
        _ZONES,
        (
            "readings/zones.csv: got an empty file, expected readings: CSV, XLSX or Parquet "
            "with a heading and a row a time. Export it again, or remove it.",
        ),
    ),
    Case(
        "a byte order mark alone",
        raw(_ZONES, b"\xef\xbb\xbf"),
        _ZONES,
        (
            "readings/zones.csv: got an empty file, expected readings: CSV, XLSX or Parquet "
            "with a heading and a row a time. Export it again, or remove it.",
        ),
    ),
    Case(
        "a page of a logger's portal",
        text(_ZONES, "<html><body>Session expired</body></html>"),
        _ZONES,
        (
            "readings/zones.csv, column device_id: got no such column (the file has "
            "<html><body>Session expired</body></html>), expected text: meter_id or "
            "sensor_id. Add the column, or name yours in columns under [[readings]] in "
            "district.toml.",
            "readings/zones.csv, column time: got no such column (the file has "
            "<html><body>Session expired</body></html>), expected a time: when it was read. "
            "Add the column, or name yours in columns under [[readings]] in district.toml.",
            "readings/zones.csv, column value: got no such column (the file has "
            "<html><body>Session expired</body></html>), expected a number: register, "
            "pulses, rate, pressure, or 0/1. Add the column, or name yours in columns under "
            "[[readings]] in district.toml.",
            "readings/zones.csv: got no readings below the heading, expected readings: CSV, "
            "XLSX or Parquet with a heading and a row a time. Export it again, or remove it.",
        ),
    ),
    Case(
        "separators alone",
        text(_ZONES, ";;;\n;;;\n"),
        _ZONES,
        (
            "readings/zones.csv, column device_id: got no such column (the file has none), "
            "expected text: meter_id or sensor_id. Add the column, or name yours in columns "
            "under [[readings]] in district.toml.",
            "readings/zones.csv, column time: got no such column (the file has none), "
            "expected a time: when it was read. Add the column, or name yours in columns "
            "under [[readings]] in district.toml.",
            "readings/zones.csv, column value: got no such column (the file has none), "
            "expected a number: register, pulses, rate, pressure, or 0/1. Add the column, or "
            "name yours in columns under [[readings]] in district.toml.",
            "readings/zones.csv: got no readings below the heading, expected readings: CSV, "
            "XLSX or Parquet with a heading and a row a time. Export it again, or remove it.",
        ),
    ),
    Case(
        "no heading in a long file",
        replaced(_ZONES, "device_id,time,value\n", ""),
        _ZONES,
        (
            "readings/zones.csv, column device_id: got no such column (the file has MA, "
            "2025-03-10 00:00, 1.90), expected text: meter_id or sensor_id. Add the column, "
            "or name yours in columns under [[readings]] in district.toml.",
            "readings/zones.csv, column time: got no such column (the file has MA, "
            "2025-03-10 00:00, 1.90), expected a time: when it was read. Add the column, or "
            "name yours in columns under [[readings]] in district.toml.",
            "readings/zones.csv, column value: got no such column (the file has MA, "
            "2025-03-10 00:00, 1.90), expected a number: register, pulses, rate, pressure, "
            "or 0/1. Add the column, or name yours in columns under [[readings]] in "
            "district.toml.",
        ),
    ),
    Case(
        "no heading in a wide file",
        replaced(_OTHERS, "time,CM1,PL1,WF1\n", ""),
        _OTHERS,
        (
            "readings/others.csv, column time: got no such column (the file has 2025-03-10 "
            "00:00, 1200.050, 45.0, 0), expected a time: when it was read. Add the column, "
            "or name yours in columns under [[readings]] in district.toml.",
        ),
    ),
    Case(
        "one heading empty",
        replaced(_OTHERS, "PL1", ""),
        _OTHERS,
        (
            "readings/others.csv, column 3 from the left: got values below no heading, "
            "expected a meter_id or sensor_id above them. Write the heading; until then the "
            "column is left out.",
        ),
        errors=False,
    ),
    Case(
        "one heading twice in a long file",
        _more_columns(_ZONES, "value", "9.5"),
        _ZONES,
        (
            "readings/zones.csv, column value: got a second column of that heading, expected "
            "each heading only once. Rename or remove one of them; the first is used.",
        ),
        errors=False,
    ),
    Case(
        "one device twice in a wide file",
        _more_columns(_OTHERS, "CM1", "9.5"),
        _OTHERS,
        (
            "readings/others.csv, column CM1: got a second column of that heading, expected "
            "each heading only once. Rename or remove one of them; the first is used.",
        ),
        errors=False,
    ),
    Case(
        "a device named besides its own column",
        replaced(_TOML, '"wide"', '"wide"\ncolumns = {CM1 = "PL1"}'),
        _OTHERS,
        (
            "readings/others.csv, column CM1: got a second column for CM1, besides PL1, "
            "expected only PL1, which district.toml names for it. Correct columns under "
            "[[readings]], or remove this column; it is left out.",
            "readings/others.csv, meter CM1: got values that fall 33 times and rise 36 "
            "times, expected a register, which only rises. Set its kind to electromagnetic "
            "or transit_time if they are flows, to pulse if they are counts, or its role to "
            "transfer if water runs both ways.",
            "readings/others.csv, meter CM1: got 33 readings below the one before (from "
            "45 to 44.3 by 2025-03-10 01:00, from 44.3 to 43.6 by 2025-03-10 02:00, from 43.6 to "
            "43 by 2025-03-10 03:00 and 30 more), expected none. Nothing need be done; they are "
            "left out.",
        ),
        errors=False,
    ),
    Case(
        "five thousand columns",
        text(
            _OTHERS,
            "time," + ",".join(f"X{n}" for n in range(5000)) + "\n2025-03-10 00:00" + ",1" * 5000,
        ),
        _OTHERS,
        (
            "readings/others.csv: got columns X0, X1, X2, X3, X4, expected a column a "
            "device, headed by its meter_id or sensor_id. Rename the columns, or name them "
            "in columns under [[readings]] in district.toml.",
        ),
    ),
    Case(
        "five thousand columns too many",
        _more_columns(_OTHERS, ",".join(f"X{n}" for n in range(5000)), ",".join("1" * 5000)),
        _OTHERS,
        (
            "readings/others.csv, devices X0, X1, X2 and 4\xa0997 more: got 73 readings of a "
            "device that is on no layer, expected a meter_id of the meters or a sensor_id of "
            "the sensors. Correct the id, or add the device to its layer; its readings are "
            "left out.",
        ),
        errors=False,
    ),
    Case(
        "a wide file read as long",
        replaced(_TOML, 'layout = "wide"', 'layout = "long"'),
        _OTHERS,
        (
            "readings/others.csv, column device_id: got no such column (the file has time, "
            "CM1, PL1, WF1), expected text: meter_id or sensor_id. Add the column, or name "
            "yours in columns under [[readings]] in district.toml.",
            "readings/others.csv, column value: got no such column (the file has time, CM1, "
            "PL1, WF1), expected a number: register, pulses, rate, pressure, or 0/1. Add the "
            "column, or name yours in columns under [[readings]] in district.toml.",
        ),
    ),
    Case(
        "a long file read as wide",
        replaced(_TOML, 'zones.csv"', 'zones.csv"\nlayout = "wide"'),
        _ZONES,
        (
            "readings/zones.csv: got columns device_id, value, expected a column a device, "
            "headed by its meter_id or sensor_id. Rename the columns, or name them in "
            "columns under [[readings]] in district.toml.",
        ),
    ),
    Case(
        "a fault among a wide file's values",
        replaced(_OTHERS, "2025-03-10 04:00,1200", "2025-03-10 04:00,fault 1200"),
        _OTHERS,
        (
            'readings/others.csv, row 6, column CM1: got "fault 1200.316", expected a '
            "number. Correct the value or leave it empty; it is left out.",
        ),
        errors=False,
    ),
    Case(
        "a column of words",
        table(_OTHERS, lambda frame: frame.assign(PL1="offline")),
        _OTHERS,
        (
            'readings/others.csv, rows 2, 3, 4 and 70 more, column PL1: got "offline", '
            "expected a number. Correct the value or leave it empty; it is left out.",
        ),
        errors=False,
    ),
    Case(
        "a floor that is moist",
        table(_OTHERS, lambda frame: frame.assign(WF1="moist")),
        _OTHERS,
        (
            'readings/others.csv, rows 2, 3, 4 and 70 more, column WF1: got "moist", '
            "expected a number. Correct the value or leave it empty; it is left out.",
        ),
        errors=False,
    ),
    Case(
        "a quotation mark left open",
        replaced(_ZONES, "MA,2025-03-10 03:00", '"MA,2025-03-10 03:00'),
        _ZONES,
        (
            "readings/zones.csv: got a quotation mark that is opened and never closed, "
            "expected readings: CSV, XLSX or Parquet with a heading and a row a time. Export "
            "it again, or remove it.",
        ),
    ),
    Case(
        "a row of too many values",
        replaced(_ZONES, "2025-03-10 03:00,", "2025-03-10 03:00,7,8,9,"),
        _ZONES,
        (
            "readings/zones.csv: got more values than headings in row 8, expected readings: "
            "CSV, XLSX or Parquet with a heading and a row a time. Export it again, or "
            "remove it.",
        ),
    ),
    Case(
        "a row that breaks off",
        lambda folder: (folder / _ZONES).write_text((folder / _ZONES).read_text()[:-9]),
        _ZONES,
        (
            'readings/zones.csv, row 147, column time: got "2025-03-13 0", expected a time '
            "as YYYY-MM-DD HH:MM. Correct the time; the reading is left out.",
        ),
        errors=False,
    ),
    Case(
        "an offset of four days",
        replaced(_ZONES, "2025-03-10 03:00", "2025-03-10T03:00+99:00"),
        _ZONES,
        (
            'readings/zones.csv, row 8, column time: got "2025-03-10T03:00+99:00", expected '
            "a time as YYYY-MM-DD HH:MM. Correct the time; the reading is left out.",
        ),
        errors=False,
    ),
    Case(
        "an infinite value",
        replaced(_ZONES, "MA,2025-03-10 03:00,2", "MA,2025-03-10 03:00,inf"),
        _ZONES,
        (
            'readings/zones.csv, row 8, column value: got "inf.20", expected a number. '
            "Correct the value or leave it empty; it is left out.",
        ),
        errors=False,
    ),
    Case(
        "values beyond any meter",
        table(_ZONES, lambda frame: frame.assign(value=frame["value"] + "e20")),
        _ZONES,
        (
            'readings/zones.csv, rows 2, 3, 4 and 143 more, column value: got "1.90e20", '
            '"160e20", "2.01e20" and others, expected a number. Correct the value or leave '
            "it empty; it is left out.",
        ),
    ),
    Case(
        "a reading of no device",
        replaced(_ZONES, "MA,2025-03-10 03:00", ",2025-03-10 03:00"),
        _ZONES,
        (
            "readings/zones.csv, row 8, column device_id: got nothing, expected a meter_id "
            "or sensor_id. Fill it in.",
        ),
        errors=False,
    ),
    Case(
        "no device anywhere",
        _all("device_id", ""),
        _ZONES,
        (
            "readings/zones.csv, rows 2, 3, 4 and 143 more, column device_id: got nothing, "
            "expected a meter_id or sensor_id. Fill it in.",
        ),
    ),
    Case(
        "no time anywhere",
        _all("time", ""),
        _ZONES,
        (
            "readings/zones.csv, column time: got no time that can be read, expected a time "
            "as YYYY-MM-DD HH:MM. Write the times as YYYY-MM-DD HH:MM.",
            "readings/zones.csv, rows 2, 3, 4 and 143 more, column time: got nothing, "
            "expected a time as YYYY-MM-DD HH:MM. Correct the time; the reading is left out.",
        ),
    ),
    Case(
        "seconds since 1970",
        table(_ZONES, _counted),
        _ZONES,
        (
            "readings/zones.csv, column time: got no time that can be read, expected a time "
            "as YYYY-MM-DD HH:MM. Write the times as YYYY-MM-DD HH:MM.",
            "readings/zones.csv, rows 2, 3, 4 and 143 more, column time: got "
            '"1741564800", "1741568400", "1741572000" and others, expected a '
            "time as YYYY-MM-DD HH:MM. Correct the time; the reading is left out.",
        ),
    ),
    Case(
        "one time for all",
        _all("time", "2025-03-10 00:00"),
        _ZONES,
        (
            "readings/zones.csv: got no night on which every meter of a zone was read, "
            "expected at least one zone whose meters were all read, hourly or more often, "
            "from 02:00 to 04:00. Add such readings, first of meters MA and MB around zone A.",
            "readings/zones.csv, rows 4, 5, 6 and 139 more: got MA at the same time as 2.01 "
            "and 1.9, MB at the same time as 171 and 160, MA at the same time as 2.11 and "
            "1.9 and others, expected one value at a time for each device. Remove the wrong "
            "one; the later one is used.",
            "readings/zones.csv, row 78: got MA at the same time again, expected each "
            "reading once. Nothing need be done; one is used.",
            "readings/zones.csv, row 79: got MB at the same time again, expected each "
            "reading once. Nothing need be done; one is used.",
        ),
    ),
    Case(
        "all in the year 2095",
        replaced(_ZONES, "2025-", "2095-", 1000),
        "readings/others.csv and readings/zones.csv",
        (
            "readings/others.csv and readings/zones.csv: got inflow from 2095-03-09 to "
            "2095-03-12, but consumption from 2025-03-10 to 2025-03-12, expected days on "
            "which both zone meters and building or customer meters were read. Add the "
            "readings of the missing period; check the date format and the year of both.",
        ),
    ),
    Case(
        "one file under two names",
        both(
            lambda folder: (folder / "readings/zones 2.csv").write_bytes(
                (folder / _ZONES).read_bytes()
            ),
            replaced(_TOML, _ZONES, "readings/zones*.csv"),
        ),
        "readings/zones 2.csv",
        (
            "readings/zones 2.csv: got the same contents as readings/zones.csv, expected "
            "each file once. Nothing need be done; it is used once.",
        ),
        errors=False,
    ),
    Case(
        "a value that stands still",
        table(
            _ZONES,
            lambda frame: frame.assign(
                value=[
                    v if d == "MB" or i < 90 else "1.73"
                    for i, (d, v) in enumerate(zip(frame["device_id"], frame["value"], strict=True))
                ]
            ),
        ),
        _ZONES,
        (
            "readings/zones.csv, meter MA: got 28 readings of a value that stood still for "
            "hours, expected none. Nothing need be done; they are left out.",
        ),
        errors=False,
    ),
    Case(
        "a lone value a hundred times too high",
        replaced(_ZONES, "MA,2025-03-10 03:00,", "MA,2025-03-10 03:00,99"),
        _ZONES,
        (
            "readings/zones.csv, meter MA: got 1 reading far beyond all others of the same "
            "device, expected none. Nothing need be done; it is left out.",
        ),
        errors=False,
    ),
    Case(
        "pulses below nothing",
        replaced(_ZONES, "MB,2025-03-10 03:00,", "MB,2025-03-10 03:00,-"),
        _ZONES,
        (
            "readings/zones.csv, meter MB: got 1 reading below zero, expected none. Nothing "
            "need be done; it is left out.",
        ),
        errors=False,
    ),
    Case(
        "a register that begins anew",
        table(
            _OTHERS,
            lambda frame: frame.assign(
                CM1=[v if i < 40 else f"{float(v) - 1200:.3f}" for i, v in enumerate(frame["CM1"])]
            ),
        ),
        _OTHERS,
        (
            "readings/others.csv, meter CM1: got 1 reading at which a register fell, as "
            "after a change of meter (from 1202.226 to 2.26 by 2025-03-11 16:00), expected none. "
            "Nothing need be done; it is left out.",
        ),
        errors=False,
    ),
    Case(
        "no pulse at all",
        _all("value", "0"),
        _ZONES,
        (
            "readings/zones.csv, zone A: got no flow at all through its meters, expected "
            "some, as the zone has connections. Check meters MA and MB: a dead logger writes "
            "zeros too.",
            "readings/zones.csv, zone B: got no flow at all through its meters, expected "
            "some, as the zone has connections. Check meter MB: a dead logger writes zeros "
            "too.",
        ),
        errors=False,
    ),
    Case(
        "readings in a folder of the name",
        both(gone(_ZONES), lambda folder: (folder / _ZONES).mkdir()),
        _ZONES,
        (
            "readings/zones.csv: got no reading file, expected the files named in "
            "[[readings]] of district.toml. Correct the pattern, or put the files there.",
        ),
    ),
    Case(
        "readings that link to themselves",
        both(gone(_ZONES), lambda folder: (folder / _ZONES).symlink_to("zones.csv")),
        _ZONES,
        (
            "readings/zones.csv: got no reading file, expected the files named in "
            "[[readings]] of district.toml. Correct the pattern, or put the files there.",
        ),
    ),
    Case(
        "readings in a pipe",
        both(gone(_ZONES), lambda folder: os.mkfifo(folder / _ZONES)),
        _ZONES,
        (
            "readings/zones.csv: got no reading file, expected the files named in "
            "[[readings]] of district.toml. Correct the pattern, or put the files there.",
        ),
    ),
    Case(
        "a folder that leads back to itself",
        lambda folder: (
            (folder / "readings/deep").symlink_to(folder / "readings", target_is_directory=True),
            text(_TOML, '[[readings]]\nfiles = "readings/**/*.csv"\n')(folder),
        ),
        _OTHERS,
        (
            "readings/others.csv, column device_id: got no such column (the file has time, "
            "CM1, PL1, WF1), expected text: meter_id or sensor_id. Add the column, or name "
            "yours in columns under [[readings]] in district.toml.",
            "readings/others.csv, column value: got no such column (the file has time, CM1, "
            "PL1, WF1), expected a number: register, pulses, rate, pressure, or 0/1. Add the "
            "column, or name yours in columns under [[readings]] in district.toml.",
        ),
    ),
    Case(
        "a file name that is no text",
        _undecodable,
        "readings/zones\\xff.csv",
        (
            "readings/zones\\xff.csv, column device_id: got no such column (the file has x, y), "
            "expected text: meter_id or sensor_id. Add the column, or name yours in columns "
            "under [[readings]] in district.toml.",
            "readings/zones\\xff.csv, column time: got no such column (the file has x, y), "
            "expected a time: when it was read. Add the column, or name yours in columns "
            "under [[readings]] in district.toml.",
            "readings/zones\\xff.csv, column value: got no such column (the file has x, y), "
            "expected a number: register, pulses, rate, pressure, or 0/1. Add the column, or "
            "name yours in columns under [[readings]] in district.toml.",
        ),
    ),
    Case(
        "a pattern that is none",
        replaced(_TOML, _ZONES, "**x"),
        "**x",
        (
            "**x: got no reading file, expected the files named in [[readings]] of "
            "district.toml. Correct the pattern, or put the files there.",
        ),
    ),
    Case(
        "a pattern that finds a folder",
        replaced(_TOML, _ZONES, "readings"),
        "readings",
        (
            "readings: got no reading file, expected the files named in [[readings]] of "
            "district.toml. Correct the pattern, or put the files there.",
        ),
    ),
)
