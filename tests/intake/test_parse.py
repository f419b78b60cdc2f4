from __future__ import annotations

import sys
from pathlib import Path

import pandas as pd
import pytest

from district.intake import tabular
from district.intake.devices import Device
from district.intake.parse import ReadingFile, ids_mark, parse, reading_list
from district.results import FileRead
from district.schema.inputs import ALARM_KINDS
from district.schema.stored import RAW
from district.settings import District, Readings, Settings

DEVICES = {"M1": Device("M1", "register", "meter", 1.0), "M2": Device("M2", "pulse", "meter", 1.0)}


def read(file: ReadingFile) -> tuple[pd.DataFrame, FileRead]:
    pieces: list[pd.DataFrame] = []
    told = parse(file, DEVICES, pieces.append)
    return pd.concat(pieces, ignore_index=True) if pieces else pd.DataFrame(), told


def written(folder: Path, text: str, name: str = "a.csv", **kind: str) -> ReadingFile:
    (folder / name).write_text(text)
    return ReadingFile(folder / name, name, Readings(files=name, **kind), "UTC")  # type: ignore[arg-type]


def test_files_stand_in_the_order_of_sections_then_names_by_their_numbers(tmp_path: Path) -> None:
    for name in ("x 10.csv", "x 9.csv", "x.csv", "b.csv"):
        (tmp_path / name).write_text("device_id,time,value\n")
    clock = Readings(files="b.csv", timezone="Asia/Tokyo")
    settings = Settings(
        district=District(timezone="Europe/London"),
        readings=(Readings(files="x*.csv"), clock, Readings(files="*.csv")),
    )
    files, findings = reading_list(tmp_path, settings)
    assert findings == []
    assert [f.name for f in files] == ["x.csv", "x 9.csv", "x 10.csv", "b.csv"]
    assert [f.clock for f in files] == ["Europe/London"] * 3 + ["Asia/Tokyo"]


@pytest.mark.parametrize("kinds", [(), (Readings(files="x/*.csv"),)])
def test_no_files(tmp_path: Path, kinds: tuple[Readings, ...]) -> None:
    files, (finding,) = reading_list(tmp_path, Settings(readings=kinds))
    assert (files, finding.got) == ([], "no reading file")


def test_rows_are_as_declared(tmp_path: Path) -> None:
    file = written(tmp_path, "device_id,time,value\nM2,2025-07-01 01:00,1.5\nM1,2025-07-01,2\n")
    rows, told = read(file)
    assert tuple(rows.columns) == RAW.names()
    assert rows["device_id"].tolist() == ["M2", "M1"]
    assert rows["time_utc"].dt.hour.tolist() == [1, 0]
    assert (rows["value"].tolist(), rows["row"].tolist()) == ([1.5, 2.0], [2, 3])
    assert told == FileRead((), 2)


def test_of_a_repeated_hour_rows_without_value_are_kept(tmp_path: Path) -> None:
    text = "time,M1\n2025-10-26 00:30,\n2025-10-26 01:30,\n2025-10-26 01:30,4\n"
    file = written(tmp_path, text, layout="wide")
    london = ReadingFile(file.path, file.name, file.kind, "Europe/London")
    rows, _ = read(london)
    assert rows["later_s"].tolist() == [3600, 3600]
    assert rows["value"].isna().tolist() == [True, False]


def test_a_file_named_after_its_device(tmp_path: Path) -> None:
    rows, told = read(written(tmp_path, "time,value\n2025-07-01 01:00,1\n", "M2.csv"))
    assert rows["device_id"].tolist() == ["M2"]
    assert told.named_by_file


def test_a_file_read_in_pieces_tells_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    lines = [f"M{1 + i % 3},2025-07-{1 + i // 24:02d} {i % 24:02d}:00,{i}" for i in range(60)]
    lines[7] = lines[31] = "M1,soon,1"
    file = written(tmp_path, "\n".join(["device_id,time,value", *lines]))
    whole, told = read(file)

    def pieces(path: Path, _: object) -> object:
        table = tabular.read_table(path)
        return (table[i : i + 8] for i in range(0, len(table), 8))

    monkeypatch.setattr(sys.modules["district.intake.parse"], "read_parts", pieces)
    again, told_again = read(file)
    pd.testing.assert_frame_equal(again, whole)
    assert told_again == told
    assert [f.place for f in told.findings] == ["row 9", "row 33", "device M3"]


@pytest.mark.parametrize(
    ("text", "got"),
    [
        ("", "an empty file"),
        ("device_id,time,value\n", "no readings below the heading"),
        ("device_id,time,value\nM1,soon,1\nM2,later,2\n", "no time that can be read"),
    ],
)
def test_a_file_without_use_is_one_error(tmp_path: Path, text: str, got: str) -> None:
    rows, told = read(written(tmp_path, text))
    assert rows.empty
    assert [f.got for f in told.findings if f.severity == "error"] == [got]


def test_the_mark_is_of_all_that_reading_depends_on(tmp_path: Path) -> None:
    file = written(tmp_path, "")
    mark = file.mark()
    at_start = ReadingFile(file.path, file.name, Readings(files="*", stamp="start"), "UTC")
    assert at_start.mark() == mark
    others = [
        ReadingFile(file.path, "b.csv", file.kind, "UTC").mark(),
        ReadingFile(file.path, file.name, file.kind, "Asia/Tokyo").mark(),
        ReadingFile(file.path, file.name, Readings(files="*", layout="wide"), "UTC").mark(),
    ]
    assert len({mark, *others}) == 4
    ids = ids_mark(DEVICES)
    finer = {"M1": Device("M1", "register", "meter", 0.001), "M2": DEVICES["M2"]}
    assert ids_mark(finer) == ids
    fewer = ids_mark({"M1": DEVICES["M1"]})
    for kind in ALARM_KINDS:
        wet = ids_mark({**DEVICES, "M2": Device("M2", kind, "sensor", 1.0)})
        assert len({ids, fewer, wet}) == 3


def test_each_sheet_with_times_is_a_file(tmp_path: Path) -> None:
    hours = ["2025-07-01 01:00", "2025-07-01 02:00"]
    with pd.ExcelWriter(tmp_path / "book.xlsx") as book:
        for sheet, heading in (("M2", "value"), ("June", "M1 (l)")):
            pd.DataFrame({"time": hours, heading: [1, 2]}).to_excel(
                book, sheet_name=sheet, index=False, startrow=1
            )
        pd.DataFrame({"Note": ["by hand"]}).to_excel(book, sheet_name="Notes", index=False)
    sections = (
        Readings(files="book.xlsx", sheet="June", layout="wide"),
        Readings(files="*.xlsx"),
    )
    files, (finding,) = reading_list(tmp_path, Settings(readings=sections))
    assert finding.source == "book.xlsx, sheet Notes"
    assert [f.name for f in files] == ["book.xlsx, sheet June", "book.xlsx, sheet M2"]
    rows, told = read(files[0])
    assert rows["device_id"].tolist() == ["M1", "M1"]
    assert told == FileRead((), 2, units=(("value", "M1", "l", "M1 (l)"),))
    rows, told = read(files[1])
    assert rows["device_id"].tolist() == ["M2", "M2"]
    assert told == FileRead((), 2, named_by_file=True)


def test_a_workbook_that_cannot_be_listed_says_why_when_read(tmp_path: Path) -> None:
    (tmp_path / "a.xlsx").write_text("text")
    files, findings = reading_list(tmp_path, Settings(readings=(Readings(files="a.xlsx"),)))
    assert findings == []
    _, told = read(files[0])
    assert [f.got for f in told.findings] == ["a file that cannot be read as xlsx"]


def test_a_long_file_whose_name_holds_its_meter(tmp_path: Path) -> None:
    text = "time,value\n2025-01-01 00:00,1\n2025-01-01 01:00,2\n"
    rows, told = read(written(tmp_path, text, "M2_Logger_1.csv"))
    assert rows["device_id"].tolist() == ["M2", "M2"]
    assert not told.findings
    _, told = read(written(tmp_path, text, "M2 and M1.csv"))
    assert [f.column for f in told.findings] == ["device_id"]
