from __future__ import annotations

from pathlib import Path

import pytest
from pydantic import ValidationError

from district.errors import InputError
from district.settings import Settings, read_settings


def sentences(folder: Path, text: str) -> list[str]:
    (folder / "district.toml").write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_settings(folder)
    return list(caught.value.lines())


def test_without_a_file_the_defaults_stand(tmp_path: Path) -> None:
    settings = read_settings(tmp_path)
    assert settings == Settings()
    assert settings.allowances["household"].l_property_h == 1.7
    assert settings.night.window_h() == 2.0


def test_values_are_read(tmp_path: Path) -> None:
    (tmp_path / "district.toml").write_text(
        '[district]\nname = "X"\ntimezone = "Europe/London"\n'
        "[night]\nstart = 01:30:00\nend = 03:30:00\n"
        "[allowances.farm]\nl_property_h = 12\n"
        '[layers.pipes]\nfile = "mains.gpkg"\nunits = {diameter_mm = "in"}\n'
    )
    settings = read_settings(tmp_path)
    assert settings.zone_info().key == "Europe/London"
    assert set(settings.allowances) == {"household", "commercial", "farm"}
    assert settings.layers["pipes"].units == {"diameter_mm": "in"}


def test_all_defects_are_told_in_one_pass(tmp_path: Path) -> None:
    said = sentences(
        tmp_path,
        '[district]\ntimezone = "Mars/Olympus"\nnme = "X"\n[costs]\nwater_currency_m3 = -1\n',
    )
    assert said == [
        'district.toml, district.timezone: got "Mars/Olympus", expected a time zone name such as '
        '"Europe/London" or "UTC". Correct the value.',
        "district.toml, district.nme: got a key that is not known here, expected only keys listed "
        "in README, section Settings. Check the spelling, or remove the line.",
        "district.toml, costs.water_currency_m3: got -1, expected greater than or equal to 0. "
        "Correct the value.",
    ]


def test_broken_toml_names_the_line(tmp_path: Path) -> None:
    (line,) = sentences(tmp_path, "[district\nname = 1\n")
    assert line.startswith("district.toml: got text that is not TOML (")
    assert "line 1" in line


def test_a_missing_folder_is_told(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no such folder"):
        read_settings(tmp_path / "nowhere")


def test_settings_are_frozen() -> None:
    with pytest.raises(ValidationError, match="frozen"):
        Settings().costs.water_currency_m3 = 2  # type: ignore[misc]
