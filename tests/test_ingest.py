"""The way of reading files into the store: once each, all at once, and only what has changed."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from district import intake, opening, pipeline, store
from district.errors import Finding, InputError
from district.results import Inputs
from district.settings import Settings, read_settings
from tests.bad_inputs.small_folder import make_folder, read_layer, write_layer


def opened(folder: Path) -> tuple[opening.Opened, list[str]]:
    said: list[str] = []
    return opening.open_folder(folder, say=said.append), said


def kept(folder: Path) -> dict[str, bytes]:
    """Every file of the store and its contents."""
    place = folder / ".district"
    return {
        str(p.relative_to(place)): p.read_bytes() for p in sorted(place.rglob("*")) if p.is_file()
    }


def all_at_once(folder: Path) -> tuple[Settings, Inputs]:
    settings = read_settings(folder)
    return settings, intake.read_layers(folder, settings)


def edit(path: Path, old: str, new: str) -> None:
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new))


def notes(folder: Path) -> list[Finding]:
    """What reading the files told."""
    manifest = store.read_manifest(folder / ".district")
    assert manifest is not None
    return list(manifest.findings)


def test_the_store_says_what_reading_at_once_says(tmp_path: Path) -> None:
    folder = make_folder(tmp_path / "small")
    zones = folder / "readings/zones.csv"
    edit(zones, "MA,2025-03-11 05", "MA,tomorrow 05")
    zones.write_text(zones.read_text() + "MB,2025-03-10 00:00,7\n")
    settings, inputs = all_at_once(folder)
    once = intake.read_readings(folder, settings, inputs)
    opened(folder)
    assert notes(folder) == list(once.findings)
    assert len(once.findings) == 3
    place = folder / ".district"
    pd.testing.assert_frame_equal(store.load_quality(place), once.quality, check_dtype=False)
    flows = pd.concat([pd.read_parquet(p) for p in place.rglob("intervals.parquet")])
    kept_flows, read_flows = (
        frame.sort_values(["device_id", "start_utc"], ignore_index=True)
        for frame in (flows, once.intervals)
    )
    pd.testing.assert_frame_equal(kept_flows, read_flows, check_dtype=False)


def test_a_second_run_changes_nothing(tmp_path: Path) -> None:
    folder = make_folder(tmp_path / "small")
    first, _ = opened(folder)
    before = kept(folder)
    second, said = opened(folder)
    assert not any("reading readings" in s or "cleaning" in s for s in said)
    assert kept(folder) == before
    assert second.findings == first.findings


def test_the_same_file_twice_changes_no_figure(tmp_path: Path) -> None:
    folder = make_folder(tmp_path / "small")
    edit(folder / "district.toml", "readings/zones.csv", "readings/zones*.csv")
    first, _ = opened(folder)
    (folder / "readings/zones_again.csv").write_bytes((folder / "readings/zones.csv").read_bytes())
    second, _ = opened(folder)
    assert second.reduced.night_flows.equals(first.reduced.night_flows)
    assert second.reduced.quality["readings_count"].equals(first.reduced.quality["readings_count"])
    assert [f.sentence() for f in notes(folder)] == [
        "readings/zones_again.csv: got the same contents as readings/zones.csv, expected each file "
        "once. Nothing need be done; it is used once."
    ]


def test_a_new_export_is_added_without_reading_the_others(tmp_path: Path) -> None:
    folder = make_folder(tmp_path / "small")
    edit(folder / "district.toml", "readings/zones.csv", "readings/zones*.csv")
    first, _ = opened(folder)
    more = [f"MA,2025-03-13 {h:02d}:00,1.5" for h in range(24)]
    text = "\n".join(["device_id,time,value", *more])
    (folder / "readings/zones_later.csv").write_text(text)
    second, said = opened(folder)
    assert [s for s in said if s.startswith("reading readings/")] == [
        "reading readings/zones_later.csv"
    ]
    counts = second.reduced.quality.set_index("device_id")["readings_count"]
    before = first.reduced.quality.set_index("device_id")["readings_count"]
    # 00:00 on the 13th stands in both.
    assert (counts - before).to_dict() == {i: 23 if i == "MA" else 0 for i in before.index}
    manifest = store.read_manifest(folder / ".district")
    assert manifest is not None
    # What was kept before is gone.
    there = {p.split("/")[1] for p in kept(folder) if p.startswith("cleaned/")}
    held = {*(p.key for p in manifest.parts), *manifest.seldom}
    assert there == {*held, manifest.quality, manifest.presence}


def test_only_the_thirds_of_a_changed_file_are_cleaned_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = make_folder(tmp_path / "small")
    later = pd.date_range("2025-06-01", periods=400, freq="h").strftime("%Y-%m-%d %H:%M")
    rows = [f"MA,{t},1.5" for t in later]
    zones = folder / "readings/zones.csv"
    zones.write_text(zones.read_text() + "\n".join([*rows, ""]))
    opened(folder)
    cleaned: list[int] = []
    clean_third = intake.clean_third

    def spied(*given: Any) -> object:
        cleaned.append(given[3])
        return clean_third(*given)

    monkeypatch.setattr(intake, "clean_third", spied)
    edit(zones, "MA,2025-06-13 05", "MA,2025-06-13 05:00,1.7\nMA,2025-06-13 05")
    opened(folder)
    # The new row moves those behind it to other rows of the file, and only those.
    june = 3 * (12 * (2025 - 1970) + 5)
    assert cleaned == [june + 1]
    cleaned.clear()
    edit(folder / "meters.geojson", '"role": "customer"', '"role": "customer", "accuracy_class": 1')
    opened(folder)
    assert cleaned == []


def test_a_new_file_leaves_earlier_months_as_they_are(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = make_folder(tmp_path / "small")
    edit(folder / "district.toml", "readings/zones.csv", "readings/zones*.csv")
    for month in ("06", "07"):
        times = pd.date_range(f"2025-{month}-01", periods=700, freq="h").strftime("%Y-%m-%d %H:%M")
        rows = "\n".join(["device_id,time,value", *(f"MA,{t},1.5" for t in times)])
        (folder / f"readings/zones_{month}.csv").write_text(rows)
    opened(folder)
    place = folder / ".district"
    before = store.read_manifest(place)
    cleaned: list[int] = []
    clean_third = intake.clean_third

    def spied(*given: Any) -> object:
        cleaned.append(given[3])
        return clean_third(*given)

    monkeypatch.setattr(intake, "clean_third", spied)
    rows = "\n".join(["device_id,time,value", *(f"MA,2025-07-31 {h:02d}:00,1" for h in range(24))])
    (folder / "readings/zones_day.csv").write_text(rows)
    opened(folder)
    now = store.read_manifest(place)
    assert before is not None
    assert now is not None
    assert cleaned == [3 * ((2025 - 1970) * 12 + 6) + 2]
    changed = [
        m for m in store.kept_months(now) if store.month_key(before, m) != store.month_key(now, m)
    ]
    assert changed == ["2025-07"]


def test_a_corrected_value_replaces_and_is_told_until_the_next_change(tmp_path: Path) -> None:
    folder = make_folder(tmp_path / "small")
    first, _ = opened(folder)
    others = folder / "readings/others.csv"
    row = next(line for line in others.read_text().splitlines() if "2025-03-11 03:00" in line)
    cells = row.split(",")
    edit(others, row, ",".join([*cells[:2], "44.4", cells[3]]))
    second, _ = opened(folder)
    said = [
        "readings/others.csv, device PL1: got 1 reading with another value since it was last read, "
        "expected what it said before, and more. Nothing need be done if that was meant; the file "
        "is used as it is now."
    ]
    assert [f.sentence() for f in notes(folder)] == said
    pressures = second.reduced.hourly_pressures
    differ = pressures["pressure_m"] != first.reduced.hourly_pressures["pressure_m"]
    assert pressures.loc[differ, "pressure_m"].tolist() == [44.4]
    opened(folder)
    assert [f.sentence() for f in notes(folder)] == said


def test_a_file_taken_away_is_told_and_used_no_longer(tmp_path: Path) -> None:
    folder = make_folder(tmp_path / "small")
    edit(folder / "district.toml", "readings/zones.csv", "readings/zones*.csv")
    text = "device_id,time,value\nMA,2025-03-13 05:00,1.5\n"
    (folder / "readings/zones_later.csv").write_text(text)
    first, _ = opened(folder)
    (folder / "readings/zones_later.csv").unlink()
    second, _ = opened(folder)
    (finding,) = notes(folder)
    assert finding.source == "readings/zones_later.csv"
    assert finding.got == "no such file any more; it held 1 reading"
    counts = [o.reduced.quality["readings_count"].sum() for o in (first, second)]
    assert counts[0] - counts[1] == 1


@pytest.mark.parametrize("stage", ["write_part", "write_kept", "write_manifest"])
def test_an_interrupted_run_leaves_the_store_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, stage: str
) -> None:
    folder = make_folder(tmp_path / "small")
    first, _ = opened(folder)
    before = kept(folder)
    edit(folder / "readings/zones.csv", "MA,2025-03-11 05:00,", "MA,2025-03-11 05:00,9")

    def killed(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(store, stage, killed)
        with pytest.raises(KeyboardInterrupt):
            opened(folder)
    after = kept(folder)
    assert {name: after[name] for name in before} == before
    edit(folder / "readings/zones.csv", "MA,2025-03-11 05:00,9", "MA,2025-03-11 05:00,")
    again, said = opened(folder)
    assert not any(s.startswith("reading readings/") for s in said)
    assert again.reduced.night_flows.equals(first.reduced.night_flows)


def test_readings_that_cannot_be_used_leave_the_store_as_it_was(tmp_path: Path) -> None:
    folder = make_folder(tmp_path / "small")
    opened(folder)
    before = kept(folder)
    (folder / "readings/zones.csv").write_text("")
    assert any(f.severity == "error" for f in pipeline.check_folder(folder))
    after = kept(folder)
    assert {name: after[name] for name in before} == before


def test_two_meters_that_read_alike_are_two_though_their_files_are_the_same(
    tmp_path: Path,
) -> None:
    folder = make_folder(tmp_path / "small")
    toml = folder / "district.toml"
    toml.write_text(toml.read_text() + '\n[[readings]]\nfiles = "readings/M?.csv"\n')
    rows = [f"2025-04-{d:02d} 00:00,1.5" for d in range(1, 29)]
    for name in ("MA", "MB"):
        (folder / f"readings/{name}.csv").write_text("\n".join(["time,value", *rows]))
    found, _ = opened(folder)
    assert not any("same contents" in f.got for f in found.findings)
    last = found.reduced.quality.set_index("device_id")["last_utc"]
    assert last["MA"] == last["MB"]


def test_works_recorded_later_are_heeded(tmp_path: Path) -> None:
    folder = make_folder(tmp_path / "small")
    opened(folder)
    works = folder / "works.csv"
    works.write_text(works.read_text() + "2025-03-11 00:00,2025-03-12 12:00,empty,CM1,away\n")
    opened(folder)
    assert ["while the premises were empty" in f.got for f in notes(folder)] == [True]


def test_a_part_that_another_run_takes_away_is_made_anew(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = make_folder(tmp_path / "small")
    first, _ = opened(folder)
    zones = folder / "readings/zones.csv"
    zones.write_text(zones.read_text() + "MA,2025-03-13 01:00,1.5\n")
    pieces_of = store.pieces_of
    gone = iter([True])

    def taken(place: Path, parts: list[str]) -> object:
        if next(gone, False):
            raise FileNotFoundError(parts[0])
        return pieces_of(place, parts)

    monkeypatch.setattr(store, "pieces_of", taken)
    second, _ = opened(folder)
    counts = (o.reduced.quality["readings_count"].sum() for o in (first, second))
    assert -next(counts) + next(counts) == 1


def test_a_correction_is_told_though_a_meter_is_added(tmp_path: Path) -> None:
    folder = make_folder(tmp_path / "small")
    opened(folder)
    edit(folder / "readings/zones.csv", "MB,2025-03-11 05:00,", "MB,2025-03-11 05:00,1")
    meters = read_layer(folder, "meters")
    more = {**meters[-1], "properties": {**meters[-1]["properties"], "meter_id": "CM2"}}
    write_layer(folder, "meters", [*meters, more])
    opened(folder)
    assert [f.place for f in notes(folder) if "with another value" in f.got] == ["device MB"]
    manifest = store.read_manifest(folder / ".district")
    assert manifest is not None
    # A manifest that names every device for each of many files would be large.
    assert not any("CM2" in file.mark for file in manifest.files)


def test_another_end_of_the_interval_moves_what_is_kept(tmp_path: Path) -> None:
    """Raw rows stay as they are; what is cleaned of them does not."""
    folders = [make_folder(tmp_path / name) for name in ("before", "anew")]
    first, _ = opened(folders[0])
    for folder in folders:
        edit(folder / "district.toml", 'zones.csv"', 'zones.csv"\nstamp = "start"')
    later, said = opened(folders[0])
    anew, _ = opened(folders[1])
    assert not any(s.startswith("reading readings/") for s in said)
    pd.testing.assert_frame_equal(later.reduced.night_flows, anew.reduced.night_flows)
    assert not later.reduced.night_flows.equals(first.reduced.night_flows)


def test_a_file_that_comes_while_others_are_hashed_is_read_too(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = make_folder(tmp_path / "small")
    edit(folder / "district.toml", "readings/zones.csv", "readings/zones*.csv")
    late = folder / "readings/zones_late.csv"
    looks = store.looks

    def then_comes(*given: Any) -> object:
        found = looks(*given)
        if not late.exists():
            late.write_text("device_id,time,value\nMA,2025-03-13 05:00,1.5\n")
        return found

    monkeypatch.setattr(store, "looks", then_comes)
    found, _ = opened(folder)
    counts = found.reduced.quality.set_index("device_id")["readings_count"]
    assert counts["MA"] == counts["MB"] + 1
    _, said = opened(folder)
    assert not any(s.startswith("reading readings/") for s in said)


def test_a_file_without_a_reading_is_left_out_only_where_that_is_asked_for(
    tmp_path: Path,
) -> None:
    folder = make_folder(tmp_path / "half")
    edit(folder / "district.toml", "readings/zones.csv", "readings/zones*.csv")
    (folder / "readings/zones_today.csv").write_bytes(b"PAR1\0half")
    with pytest.raises(InputError, match=r"zones_today\.csv"):
        opening.open_folder(folder)
    found = opening.open_folder(folder, go_on=True)
    told = [f for f in found.findings if f.source == "readings/zones_today.csv"]
    assert [f.severity for f in told] == ["warning"]
    assert told[0].sentence().endswith("until then it is left out.")
    # Kept so, and still out of date for who wants every file.
    said: list[str] = []
    opening.open_folder(folder, say=said.append, go_on=True)
    assert "reading meters and sensors" not in said
    with pytest.raises(InputError, match=r"zones_today\.csv"):
        opening.open_folder(folder)


def test_where_no_file_can_be_read_there_is_nothing_to_go_on_with(tmp_path: Path) -> None:
    folder = make_folder(tmp_path / "none")
    for name in ("zones", "others"):
        (folder / f"readings/{name}.csv").write_bytes(b"PAR1\0half")
    with pytest.raises(InputError, match=r"zones\.csv"):
        opening.open_folder(folder, go_on=True)
