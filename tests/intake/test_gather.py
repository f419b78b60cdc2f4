from __future__ import annotations

from pathlib import Path

import pytest

from district.intake.devices import Device
from district.intake.gather import gather
from district.settings import Readings, Settings

DEVICES = {"M1": Device("M1", "register", "meter", 1.0), "M2": Device("M2", "pulse", "meter", 1.0)}


def test_files_are_joined_and_remembered(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text("device_id,time,value\nM1,2025-07-01 01:00,1\n")
    (tmp_path / "b.csv").write_text("time,M2\n2025-07-01 01:00,2\n")
    settings = Settings(
        readings=(
            Readings(files="a.csv"),
            Readings(files="b.csv", layout="wide", timezone="Europe/London", stamp="start"),
        )
    )
    rows, files, findings = gather(tmp_path, settings, DEVICES)
    assert findings == []
    assert files == ["a.csv", "b.csv"]
    assert rows.device.tolist() == [0, 1]
    assert rows.file.tolist() == [0, 1]
    assert rows.row.tolist() == [2, 2]
    assert rows.at_end.tolist() == [True, False]
    assert rows.time_us[0] - rows.time_us[1] == 3_600_000_000


def test_a_file_named_after_its_device(tmp_path: Path) -> None:
    (tmp_path / "readings").mkdir()
    (tmp_path / "readings/M2.csv").write_text("time,value\n2025-07-01 01:00,1\n")
    rows, _, findings = gather(tmp_path, Settings(), DEVICES)
    assert findings == []
    assert rows.device.tolist() == [1]


@pytest.mark.parametrize("kinds", [(), (Readings(files="x/*.csv"),)])
def test_no_files(tmp_path: Path, kinds: tuple[Readings, ...]) -> None:
    rows, files, (finding,) = gather(tmp_path, Settings(readings=kinds), DEVICES)
    assert (len(rows.value), files, finding.got) == (0, [], "no reading file")
