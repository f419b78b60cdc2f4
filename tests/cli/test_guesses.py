from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from district.cli import main
from district.cli.guesses import guesses_object
from district.intake import Draft
from district.intake.proposal import LeftOut, Proposal
from tests.bad_inputs.small_folder import make_folder


def run(*words: object) -> Result:
    return CliRunner().invoke(main, [str(w) for w in words], prog_name="district")


@pytest.fixture
def small(tmp_path: Path) -> Path:
    folder = make_folder(tmp_path / "small")
    (folder / "district.toml").unlink()
    return folder


def test_init_prints_each_guess_how_sure_and_why(small: Path) -> None:
    result = run("init", small)
    assert result.stderr == ""
    assert result.exit_code == 3, "the clock is still to be said"
    for words in (
        "How sure",
        "pipes.geojson",
        "readings/others.csv",
        "only rise",
        "timezone under",
    ):
        assert words in result.stdout
    assert result.stdout.splitlines()[-1].startswith(f"Written: {small / 'district.toml'}")
    assert max(len(line) for line in result.stdout.splitlines()[:10]) <= 104


def test_columns_that_are_not_used_are_named(small: Path) -> None:
    assert "not used" not in run("init", small).stdout
    lines = (small / "works.csv").read_text().splitlines()
    extra = [f"Own {n}" for n in range(12)]
    rows = [",".join([line, *(extra if n == 0 else "x" * 12)]) for n, line in enumerate(lines)]
    (small / "works.csv").write_text("\n".join(rows))
    (small / "district.toml").unlink()
    printed = run("init", small).stdout
    assert printed.count("not used") == 1
    told = " ".join(printed[printed.index("not used") :].split())
    assert "Own 0, Own 1" in told
    assert "and 2 more" in told
    assert f"# Not used: {', '.join(extra)}\n" in (small / "district.toml").read_text()


def test_a_second_run_says_that_nothing_was_written(small: Path) -> None:
    run("init", small)
    path = small / "district.toml"
    path.write_text(path.read_text().replace('#timezone = "UTC"', 'timezone = "UTC"'))
    before = path.read_bytes()
    result = run("init", small)
    assert "nothing was written" in result.stdout
    assert result.exit_code == 0, result.stdout
    assert path.read_bytes() == before


def test_what_is_added_is_printed(small: Path) -> None:
    (small / "district.toml").write_text('[district]\ntimezone = "UTC"\n')
    result = run("init", small)
    assert "Added at the end of" in result.stdout
    assert "[layers.pipes]" in result.stdout


def test_what_cannot_be_added_is_printed_and_the_file_left(small: Path) -> None:
    text = 'layers = { }\n[district]\ntimezone = "UTC"\n'
    (small / "district.toml").write_text(text)
    result = run("init", small)
    assert "Add this by hand" in result.stdout
    assert (small / "district.toml").read_text() == text


def test_json_says_the_same(small: Path) -> None:
    result = run("init", small, "--json")
    said = json.loads(result.stdout)
    assert {g["table"] for g in said["layers"]} >= {"pipes", "meters"}
    assert said["written"] is True
    assert said["still_to_say"]
    assert result.exit_code == 3


def test_a_folder_with_nothing_of_use_is_one_line_and_nothing_is_written(tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("buy tea\n")
    result = run("init", tmp_path)
    assert result.exit_code == 2
    assert result.stdout == ""
    assert result.stderr == (
        f"{tmp_path}: got 1 file, none of use (notes.txt: it has no rows below the heading), "
        "expected a folder with map layers (GeoPackage, shapefile, GeoJSON ...) or files of "
        "readings (CSV, XLSX, Parquet). Put the layers and readings there.\n"
    )
    assert [p.name for p in tmp_path.iterdir()] == ["notes.txt"]


def test_a_broken_settings_file_stays_as_it_is(small: Path) -> None:
    (small / "district.toml").write_text("[district\n")
    result = run("init", small)
    assert result.exit_code == 2
    assert (small / "district.toml").read_text() == "[district\n"


def test_the_object_for_machines_holds_only_plain_things(tmp_path: Path) -> None:
    proposal = Proposal(tmp_path, left_out=(LeftOut("a", "b"),))
    said = guesses_object(Draft(proposal, tmp_path / "district.toml", "", "x", True, ("y",)))
    assert json.loads(json.dumps(said))["add_by_hand"] is True
    assert said["left_out"] == ({"file": "a", "why": "b"},) or said["left_out"][0]["file"] == "a"
