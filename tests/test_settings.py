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
        "district.toml, costs.water_currency_m3: got -1, expected at least 0. Correct the value.",
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


def test_an_estimate_must_lie_within_its_limits(tmp_path: Path) -> None:
    (line,) = sentences(tmp_path, "[background]\ncondition_factor = 4\n")
    assert line.endswith(
        "expected condition_factor from condition_factor_low, 1, to condition_factor_high, 3. "
        "Correct the value."
    )
    (tmp_path / "district.toml").write_text("[pressure]\nexponent = 1.6\nexponent_high = 1.7\n")
    assert read_settings(tmp_path).pressure.exponent == 1.6


def test_the_night_is_on_the_district_s_clock(tmp_path: Path) -> None:
    (line,) = sentences(tmp_path, '[night]\nstart = "02:00Z"\n')
    assert "expected times such as 02:00:00 of the district's own clock, without an offset." in line


def test_what_no_setting_can_mean_is_told(tmp_path: Path) -> None:
    said = sentences(tmp_path, "snap_tolerance_m = 1e9\n[pressure]\nexponent = 1e300\n")
    assert [line.partition("expected ")[2] for line in said] == [
        "at most 50. Correct the value.",
        "at most 5. Correct the value.",
    ]


def test_a_file_that_is_no_text_names_the_line(tmp_path: Path) -> None:

    def said() -> list[str]:
        with pytest.raises(InputError) as caught:
            read_settings(tmp_path)
        return list(caught.value.lines())

    path = tmp_path / "district.toml"
    path.write_bytes(b'[district]\nname = "Z\xfcrich"\n')
    assert said() == [
        "district.toml, line 2: got a sign that is not UTF-8, expected TOML in UTF-8: key = value "
        "lines under [section] headings. Save the file as UTF-8."
    ]
    path.unlink()
    path.mkdir()
    (line,) = said()
    assert "what cannot be read as a file" in line


@pytest.mark.parametrize("text", ["a = " + "[" * 5000, "a = " + "9" * 5000])
def test_endless_text_is_told(tmp_path: Path, text: str) -> None:
    (line,) = sentences(tmp_path, text)
    assert line.startswith("district.toml: got text that is not TOML (")


def test_a_path_with_backslashes_gets_its_own_mend(tmp_path: Path) -> None:
    (line,) = sentences(tmp_path, '[layers.pipes]\nfile = "C:\\data\\pipes.shp"\n')
    assert line.endswith("Write paths with / in place of \\.")


def test_a_link_that_leads_nowhere_is_no_lack_of_settings(tmp_path: Path) -> None:
    (tmp_path / "district.toml").symlink_to("nowhere.toml")
    with pytest.raises(InputError, match="what cannot be read as a file"):
        read_settings(tmp_path)


@pytest.mark.parametrize("section", ["layers.pipes", "records.works"])
def test_no_two_columns_of_ours_from_one_of_theirs(tmp_path: Path, section: str) -> None:
    ours = ("pipe_id", "material") if section == "layers.pipes" else ("kind", "place_id")
    text = f'[{section}]\nfile = "x"\ncolumns = {{{ours[0]} = "a", {ours[1]} = "a"}}\n'
    (line,) = sentences(tmp_path, text)
    assert line.endswith(
        f'expected a column for each, not "a" for {ours[0]} and {ours[1]}. Correct the value.'
    )


@pytest.mark.parametrize("said", ["5", "[1]", "[200, 50]", '["a", 1]', "[1, 2, 3]", "[true, 1]"])
def test_a_depot_is_a_longitude_and_a_latitude(tmp_path: Path, said: str) -> None:
    (line,) = sentences(tmp_path, f"[survey]\ndepot_deg = {said}\n")
    assert "expected longitude and latitude in degrees such as [-1.93, 54.35], or []" in line
    (tmp_path / "district.toml").write_text("[survey]\ndepot_deg = [-1.93, 54]\n")
    assert read_settings(tmp_path).survey.depot_deg == (-1.93, 54.0)
