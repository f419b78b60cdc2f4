"""`district survey` on a ladder of streets, what is to be searched typed by hand."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from district import pipeline
from district.cli import layout, main
from tests.survey.scenes import Told, ladder, located

TOLD: dict[str, Told] = {
    "B": (0.5, None, None),
    "G": (0.3, 20.0, 80.0),
    "Q": (0.1, None, None),
}
LADDER = ladder()


def run(*words: object) -> Result:
    return CliRunner().invoke(main, ["survey", *[str(w) for w in words]], prog_name="district")


@pytest.fixture(autouse=True)
def _located(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    given = located(LADDER, TOLD, tmp_path)
    monkeypatch.setattr(pipeline, "locate_folder", lambda _, **__: given)


def test_caution_first_then_shifts_orders_legs_and_sensors() -> None:
    result = run("x")
    assert result.exit_code == 3, result.output
    assert result.stdout.startswith("Who walks and listens does so beside traffic")
    titles = ("Shifts, in order", "in other orders", "The walk, first", "Two sensors about")
    places = [result.stdout.index(t) for t in titles]
    assert places == sorted(places)
    assert "Upper row" in result.stdout
    assert "assumptions" in result.stdout
    assert all(len(line) <= layout.WIDTH for line in result.stdout.splitlines())


def test_files_are_written_where_asked(tmp_path: Path) -> None:
    result = run("x", "--out", tmp_path / "walk")
    assert {p.name for p in (tmp_path / "walk").iterdir()} == {
        "survey.gpkg", "survey.geojson", "survey_track.gpx", "survey_points.gpx",
    }  # fmt: skip
    assert "survey_track.gpx" in result.stdout.replace("\n", "")


def test_all_tables_for_machines() -> None:
    told = json.loads(run("x", "--json", "--hours", 1).stdout)
    assert {"caution", "said", "shifts", "rounds", "legs", "paths", "set_ups", "basis"} <= {*told}
    assert told["listening_points"][0]["longitude_deg"] is not None
    assert [leg["leg"] for leg in told["legs"]] == list(range(1, len(told["legs"]) + 1))


def test_a_zone_with_nothing_to_walk() -> None:
    result = run("x", "--zone", "Z/2")
    assert result.exit_code == 0
    assert "There is nothing to walk" in result.stdout


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--zone", "Nowhere"), "which is no zone"),
        (("--depot", 54.0, 95.0), "longitude first"),
        (("--hours", 0), "0.5<=x<=16"),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence(words: tuple[object, ...], said: str) -> None:
    result = run("x", *words)
    assert result.exit_code == 2
    assert said in result.stderr
    assert result.stdout == ""
