"""A folder opened: what is kept is used again while it holds, and made anew where not."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from district.errors import InputError
from district.opening import open_folder, open_map
from tests.bad_inputs.small_folder import make_folder


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_folder(tmp_path_factory.mktemp("opening") / "small")


def test_a_warm_run_reads_no_reading_file_again(small: Path) -> None:
    said: list[str] = []
    cold = open_folder(small, say=said.append)
    assert "reading meters and sensors" in said
    said.clear()
    warm = open_folder(small, say=said.append)
    assert "reading meters and sensors" not in said
    assert warm.findings == cold.findings
    assert warm.reduced.night_flows.equals(cold.reduced.night_flows)


def test_an_edited_meter_makes_the_store_stale(tmp_path: Path) -> None:
    folder = make_folder(tmp_path / "edited")
    open_folder(folder)
    layer = folder / "meters.geojson"
    layer.write_text(layer.read_text().replace('"error_percent": 2', '"error_percent": 3') + " ")
    said: list[str] = []
    open_folder(folder, say=said.append)
    assert "reading meters and sensors" in said


def test_lowest_hours_of_zones_and_their_users_where_the_window_rolls(tmp_path: Path) -> None:
    folder = make_folder(tmp_path / "rolling")
    fixed = open_folder(folder)
    assert fixed.network.cells["has_source"].sum() == 1
    # The cell with the source is never balanced: no hour is sought there.
    assert set(fixed.reduced.night_minima["cell_id"]) == {"A", "B"}
    assert len(fixed.reduced.lowest_hours) == 0
    with (folder / "district.toml").open("a") as settings:
        settings.write('\n[night]\nwindow = "rolling"\n')
    hours = open_folder(folder).reduced.lowest_hours
    pairs = set(zip(hours["cell_id"], hours["device_id"], strict=True))
    assert pairs == {("A", "MA"), ("A", "MB"), ("A", "CM1"), ("B", "MB")}


@pytest.mark.parametrize(
    "file",
    ["device_quality.parquet", "intervals.parquet", "told.json", "manifest.json", "rows.parquet"],
)
@pytest.mark.parametrize("harm", ["damaged", "gone"])
def test_damaged_stored_readings_are_read_again(tmp_path: Path, file: str, harm: str) -> None:
    folder = make_folder(tmp_path / "damaged")
    sound = open_folder(folder)
    paths = list((folder / ".district").rglob(file))
    assert paths
    for path in paths:
        if harm == "damaged":
            path.write_text("junk")
        else:
            path.unlink()
    again = open_folder(folder)
    assert again.findings == sound.findings
    assert again.reduced.night_flows.equals(sound.reduced.night_flows)
    assert again.reduced.daily_volumes.equals(sound.reduced.daily_volumes)


def test_a_map_is_opened_without_a_reading(tmp_path: Path) -> None:
    folder = make_folder(tmp_path / "map")
    shutil.rmtree(folder / "readings")
    found = open_map(folder)
    assert len(found.network.pipes)
    assert not (folder / ".district").exists()
    (folder / "pipes.geojson").unlink()
    with pytest.raises(InputError):
        open_map(folder)
