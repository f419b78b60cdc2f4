from __future__ import annotations

from pathlib import Path

import pandas as pd

from district import intake
from district.settings import read_settings
from tests.bad_inputs.small_folder import make_folder


def test_a_record_of_many_thirds_is_whole(tmp_path: Path) -> None:
    folder = make_folder(tmp_path / "small")
    times = pd.date_range("2025-03-13 01:00", periods=24 * 40, freq="h").strftime("%Y-%m-%d %H:%M")
    zones = folder / "readings/zones.csv"
    zones.write_text(zones.read_text() + "\n".join(f"MA,{t},1.5" for t in times) + "\n")
    settings = read_settings(folder)
    found = intake.read_readings(folder, settings, intake.read_layers(folder, settings))
    own = found.intervals[found.intervals["device_id"] == "MA"]
    # 73 hours in the folder and 40 days more without a gap, less the hour that the clocks skip.
    assert len(own) == 73 + 24 * 40 - 1
    assert (own["start_utc"].iloc[1:].to_numpy() == own["end_utc"].iloc[:-1].to_numpy()).all()
    quality = found.quality.set_index("device_id").loc["MA"]
    assert (quality["readings_count"], quality["missing_count"]) == (73 + 24 * 40 - 1, 0)


def test_a_folder_without_readings_gives_empty_tables(tmp_path: Path) -> None:
    folder = make_folder(tmp_path / "small")
    (folder / "readings/zones.csv").write_text("device_id,time,value\n")
    (folder / "readings/others.csv").unlink()
    settings = read_settings(folder)
    found = intake.read_readings(folder, settings, intake.read_layers(folder, settings))
    assert found.intervals.empty
    assert found.quality.empty
    assert any(f.severity == "error" for f in found.findings)
