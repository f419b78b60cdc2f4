"""JSON and CSV for other systems, read back by the standard library's own readers."""

from __future__ import annotations

import csv
import io
import json
from datetime import date, datetime
from pathlib import Path

import pytest

from district import files
from district.render.alarm_files import ATOM, CSV, JSON, PAGE, alarms_json, write_morning
from district.schema.event_tables import MORNING
from tests.render.mornings import SCRIPT, morning, no_morning


def test_json_is_one_object_with_every_alarm() -> None:
    """RFC 8259: no NaN (6), ASCII is UTF-8 (8.1); RFC 3339, 5.6: full-date and date-time."""
    text = alarms_json(morning())
    assert text.isascii()
    said = json.loads(text, parse_constant=pytest.fail)
    assert len(said["alarms"]) == len(morning().morning)
    assert tuple(said["alarms"][0]) == MORNING.names()
    assert said["first_run"] is False
    assert said["nights_before_to"] == "2031-03-30"
    assert said["news_count"] == {"new": 4, "standing": 1}
    assert said["to_act_on_count"] == 4
    first = said["alarms"][0]
    assert date.fromisoformat(first["start"])
    assert datetime.fromisoformat(first["updated_utc"]).utcoffset() is not None
    assert first["volume_m3"] is None
    assert isinstance(first["act"], bool)
    assert said["readings_to"] == "2031-03-31T22:45:00Z"


def test_csv_is_read_back_as_it_was(tmp_path: Path) -> None:
    """RFC 4180, 2: lines end in CRLF, a heading, the same number of fields in each line."""
    out = morning()
    write_morning(out, tmp_path)
    text = (tmp_path / CSV).read_bytes().decode("utf-8")
    assert text.endswith("\r\n")
    rows = list(csv.reader(io.StringIO(text, newline="")))
    assert tuple(rows[0]) == MORNING.names()
    assert {len(row) for row in rows} == {len(MORNING.columns)}
    assert len(rows) == len(out.morning) + 1


def test_no_cell_is_a_formula(tmp_path: Path) -> None:
    write_morning(morning(), tmp_path)
    text = (tmp_path / CSV).read_bytes().decode("utf-8")
    rows = csv.DictReader(io.StringIO(text, newline=""))
    ids = [row["alarm_id"] for row in rows]
    assert "'=E-1" in ids
    assert not any(i.startswith("=") for i in ids)


def test_four_files_the_same_bytes_each_time(tmp_path: Path) -> None:
    paths = write_morning(morning(), tmp_path / "one")
    assert [p.name for p in paths] == [PAGE, JSON, CSV, ATOM]
    write_morning(morning(), tmp_path / "two")
    for path in paths:
        assert path.read_bytes() == (tmp_path / "two" / path.name).read_bytes()


def test_none_is_written_where_one_fails(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    out = tmp_path / "maps"
    write_morning(no_morning(), out)
    before = {p.name: p.read_bytes() for p in out.iterdir()}
    true_write, count = files.write_text, iter(range(10))

    def breaks(path: Path, text: str) -> None:
        if next(count) == 2:
            raise KeyboardInterrupt
        true_write(path, text)

    monkeypatch.setattr("district.render.alarm_files.write_text", breaks)
    with pytest.raises(KeyboardInterrupt):
        write_morning(morning(), out)
    assert {p.name: p.read_bytes() for p in out.iterdir()} == before


def test_markup_in_names_stays_text() -> None:
    assert SCRIPT in json.loads(alarms_json(morning()))["name"]
