from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from district.errors import InputError
from district.intake.draft import draft
from district.intake.proposal import ColumnGuess, LayerGuess, Proposal, ReadingsGuess
from district.settings import read_settings

PIPES = LayerGuess("pipes", "mains.shp", "", "sure", "its name")
UNSURE = LayerGuess("valves", "points.shp", "", "unsure", "a few columns")
READINGS = ReadingsGuess("r/*.csv", ("r/1.csv", "r/2.csv"), "long", "sure", "ids", values="rates")


def proposal(folder: Path) -> Proposal:
    (folder / "r").mkdir(exist_ok=True)
    for name in ("1.csv", "2.csv", "3.csv"):
        (folder / "r" / name).write_text("")
    return Proposal(folder, (PIPES, UNSURE), (), (READINGS,))


def put(folder: Path, text: str) -> None:
    (folder / "district.toml").write_bytes(text.encode())


def test_a_new_file_is_read_as_what_was_guessed(tmp_path: Path) -> None:
    found = draft(proposal(tmp_path))
    assert not (tmp_path / "district.toml").exists()
    put(tmp_path, found.text)
    settings = read_settings(tmp_path)
    assert settings.layers["pipes"].file == "mains.shp"
    assert set(settings.layers) == {"pipes"}
    assert [r.files for r in settings.readings] == ["r/*.csv"]
    assert settings.district.name == tmp_path.name
    assert "timezone" not in settings.district.model_fields_set


def test_a_second_draft_adds_nothing(tmp_path: Path) -> None:
    put(tmp_path, draft(proposal(tmp_path)).text)
    again = draft(proposal(tmp_path))
    assert (again.text, again.added, again.by_hand) == ("", "", False)


def test_every_byte_of_a_file_that_exists_is_kept(tmp_path: Path) -> None:
    mine = (
        '# mine\r\n[district]\r\nname = "Ours"   # do not touch\r\n[layers.pipes]\r\nfile="x.shp"'
    )
    put(tmp_path, mine)
    found = draft(proposal(tmp_path))
    assert found.text.startswith(mine + "\r\n")
    assert "\n" not in found.text.replace("\r\n", "")
    put(tmp_path, found.text)
    settings = read_settings(tmp_path)
    assert settings.layers["pipes"].file == "x.shp"
    assert [r.files for r in settings.readings] == ["r/*.csv"]
    assert "mains.shp" not in found.text
    assert draft(proposal(tmp_path)).added == ""


def test_what_a_person_switched_off_stays_off(tmp_path: Path) -> None:
    put(tmp_path, draft(proposal(tmp_path)).text)
    text = (tmp_path / "district.toml").read_text()
    text = text.replace("[layers.pipes]", "#[layers.pipes]").replace(
        'file = "mains', '#file = "mains'
    )
    put(tmp_path, text)
    assert draft(proposal(tmp_path)).added == ""


def test_new_files_of_a_kind_that_is_named_are_added_one_by_one(tmp_path: Path) -> None:
    put(tmp_path, '[[readings]]\nfiles = "r/1.csv"\n[layers.pipes]\nfile = "mains.shp"\n')
    found = draft(replace(proposal(tmp_path), layers=(PIPES,)))
    assert found.added.count("[[readings]]") == 1
    assert 'files = "r/2.csv"' in found.added


@pytest.mark.parametrize(
    "text",
    [
        'layers = { pipes = { file = "a.shp" } }\nreadings = []\n',
        'layers.pipes.file = "a.shp"\nreadings = [{ files = "r/3.csv" }]\n',
    ],
)
def test_a_file_to_which_nothing_can_be_added_is_left_to_a_person(
    tmp_path: Path, text: str
) -> None:
    put(tmp_path, text)
    found = draft(proposal(tmp_path))
    assert found.by_hand
    assert found.text == ""
    assert "[[readings]]" in found.added


def test_a_broken_file_stops_before_anything_is_written(tmp_path: Path) -> None:
    put(tmp_path, "[district\n")
    with pytest.raises(InputError, match="not TOML"):
        draft(proposal(tmp_path))


def test_what_a_person_must_say_is_listed_until_it_is_said(tmp_path: Path) -> None:
    columns = (ColumnGuess("material", "MAT", "unsure", "near", remark="its values do not fit"),)
    valves = replace(UNSURE, sureness="likely", columns=columns[:0], lacking=("state",))
    guesses = (replace(PIPES, columns=columns), valves)
    asked = replace(proposal(tmp_path), layers=guesses)
    said = draft(asked).to_fill_in
    assert any(s.startswith("timezone under [district]") for s in said)
    assert any(s.startswith("[layers.meters]") for s in said)
    assert "material of mains.shp: its values do not fit" in said
    assert "state under [layers.valves.columns]: which column it is" in said
    put(
        tmp_path,
        '[district]\ntimezone = "Europe/London"\n[layers.meters]\nfile = "m.shp"\n'
        '[layers.valves]\nfile = "points.shp"\ncolumns = { state = "S" }\n'
        '[layers.pipes]\nfile = "mains.shp"\ncolumns = { material = "MAT2" }\n',
    )
    left = draft(asked).to_fill_in
    assert not any(s.startswith(("timezone", "[layers.meters]", "material", "state")) for s in left)


def test_codes_and_places_to_fill_in_are_asked_for_until_they_are_said(tmp_path: Path) -> None:
    columns = (ColumnGuess("material", "MAT", "sure", "usual", unread=("7", "9")),)
    asked = replace(proposal(tmp_path), layers=(replace(PIPES, columns=columns, placed=False),))
    said = draft(asked).to_fill_in
    assert "crs under [layers.pipes]: mains.shp states none" in said
    assert (
        'material of mains.shp: what "7" and "9" mean, under [layers.pipes.values.material]' in said
    )
    put(tmp_path, draft(asked).text)
    assert draft(asked).added == ""
    put(
        tmp_path,
        '[layers.pipes]\nfile = "mains.shp"\ncrs = "EPSG:27700"\n'
        'values = { material = { 7 = "steel", 9 = "pvc" } }\n',
    )
    left = draft(asked).to_fill_in
    assert not any("crs" in s or "material" in s for s in left)
