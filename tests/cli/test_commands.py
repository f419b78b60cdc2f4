"""What the commands print and how they end, on the small folder and on broken copies of it."""

from __future__ import annotations

import json
from dataclasses import fields
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from district import pipeline
from district.cli import layout, main
from district.errors import InputError
from district.opening import Opened, open_folder
from district.results import Balance, Location
from tests.bad_inputs.cases import CASES, Case
from tests.bad_inputs.check_cases import CASES as CHECK_CASES
from tests.bad_inputs.small_folder import make_folder
from tests.bad_inputs.table_cases import CASES as TABLE_CASES

ALL = (*CASES, *TABLE_CASES, *CHECK_CASES)
HELP = """\
Usage: district [OPTIONS] COMMAND [ARGS]...

  Turn meter readings and a pipe map into how much leaks, in which zone, since when, and on which
  stretch of pipe.

  Exit status: 0 nothing to act on, 3 something to act on, 2 input that cannot be used.

Options:
  --version   Show the version and exit.
  -h, --help  Show this message and exit.

Commands:
  audit      What each figure is made of, and what to measure better to know it better.
  balance    Water balance of every zone: night flow, leakage, the year, with 95 % limits.
  check      List what is wrong with a district folder, each with its place and its mend.
  events     What began, when, how large, what it likely is; repairs, buildings, alarm sensors.
  init       Guess what the files of a folder hold and write a commented district.toml.
  isolate    Which valves to shut for a stretch of pipe, and whom that leaves without water.
  ledger     Leaks of a year: found, mended, verified; their water and money; a page to print.
  locate     Where each leak likely is, what told it, and the shortest walk likely to pass it.
  map        Write the interactive map alone: one file that opens without a network.
  reach      How small a leak would show, how far the walk to it, where to add a logger or meter.
  renew      Which pipes to renew under a budget, what that saves, and how good such a list is.
  report     Run everything and write map, report, workbook and open tables.
  score      Compare the results with a simulated district's truth.csv.
  sheets     The sheet of each job for a crew, to print, and the form that comes back.
  shutoff    At which flow, and after how long, a building's automatic valve should shut.
  simulate   Write an invented district with hidden leaks into FOLDER.
  step-test  Which valves to shut one after another by night, and what a step test said of a zone.
  survey     The shortest walk over the pieces to search, where to listen, where to set sensors.
  verify     After a repair: is the job closed, or must a crew go back, and where to.
  watch      Every morning: what is new since the data before, and what is still to be acted on.
"""


def run(*words: object) -> Result:
    return CliRunner().invoke(main, [str(w) for w in words], prog_name="district")


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_folder(tmp_path_factory.mktemp("small") / "small")


@pytest.fixture
def opened_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """A folder is opened once for all commands run on it, or refused by all for the same."""
    done: dict[Path, Opened | InputError] = {}

    def once(folder: Path, **how: Any) -> Opened:
        if folder not in done:
            try:
                done[folder] = open_folder(folder, **how)
            except InputError as refused:
                done[folder] = refused
        found = done[folder]
        if isinstance(found, InputError):
            raise found
        return found

    monkeypatch.setattr(pipeline, "open_folder", once)


@pytest.fixture(scope="module")
def reported(small: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[Result, Path]:
    out = tmp_path_factory.mktemp("pages") / "a"
    return run("report", small, "--out", out), out


def test_help_is_one_screen() -> None:
    assert run("--help").stdout == HELP


def test_check_prints_each_finding_and_their_count(small: Path) -> None:
    result = run("check", small)
    assert result.stderr == ""
    lines = result.stdout.splitlines()
    assert lines[-1].startswith("Findings: ")
    assert all(line.split(":")[0] in ("warning", "note", "Findings") for line in lines)
    assert result.exit_code == 3


@pytest.mark.parametrize(
    "command", ["check", "balance", "audit", "events", "locate", "reach", "shutoff"]
)
def test_json_is_one_object_with_nothing_else(small: Path, command: str) -> None:
    result = run(command, small, "--json")
    assert isinstance(json.loads(result.stdout), dict)
    assert result.stderr == ""
    assert result.exit_code in (0, 3)


def test_balance_prints_zones_and_the_year(small: Path) -> None:
    result = run("balance", small)
    assert "Zones, worst first" in result.stdout
    assert "system input volume" in result.stdout.lower()
    assert "Which zone first" in result.stdout
    assert "by the annual balance" in result.stdout
    assert "a day while it runs" in result.stdout
    assert "The balance rests on 2025-03-" in result.stdout


def test_balance_holds_every_table_for_machines(small: Path) -> None:
    told = json.loads(run("balance", small, "--json").stdout)
    said = {*told} - {"basis"}
    made = {f.name for f in fields(Balance)} - {"basis", "audit", "improvements"}
    assert said == made - {"annual"} | {"annual_balance"}
    assert told["economics"][0]["cell_id"] == "district"


def test_audit_prints_what_to_measure_better_then_every_figure_of_a_zone(small: Path) -> None:
    better, of_zone = run("audit", small), run("audit", small, "--zone", "district")
    assert better.stdout.startswith("What to measure better")
    assert "daily leakage: " in better.stdout
    assert "--zone ZONE" in better.stdout
    assert of_zone.stdout.startswith("Every figure of the district")
    assert "system input volume" in of_zone.stdout
    told = json.loads(run("audit", small, "--zone", "district", "--json").stdout)
    assert {row["cell_id"] for row in told["audit"]} == {"district"}
    unknown = run("audit", small, "--zone", "17")
    assert unknown.exit_code == 2
    assert unknown.stderr.startswith('--zone: got "17", expected one of district, ')


def test_locate_prints_events_walks_and_stretches(small: Path) -> None:
    result = run("locate", small)
    assert "Events worth acting on" in result.stdout
    assert "in order of search" in result.stdout
    assert "licensed people" in result.stdout
    assert all(len(line) <= layout.WIDTH for line in result.stdout.splitlines())


def test_shutoff_says_who_may_decide_though_nothing_is_advised(small: Path) -> None:
    result = run("shutoff", small)
    assert result.exit_code == 0, result.output
    # The one meter of a customer there never stands still, and was read for three days.
    assert "- CM1: None advised: 0 days without a leak" in result.stdout
    assert "licensed person" in result.stdout
    assert "Local code" in json.loads(run("shutoff", small, "--json").stdout)["caution"]


def test_reach_prints_leaks_to_come_and_where_to_add_a_device(small: Path) -> None:
    result = run("reach", small)
    assert result.exit_code == 0, result.output
    assert result.stdout.startswith("What the present meters and loggers would show")
    assert "Where the next device shortens the walk most" in result.stdout
    assert "confined spaces" in result.stdout
    assert all(len(line) <= layout.WIDTH for line in result.stdout.splitlines())


def test_location_holds_every_table_for_machines(small: Path) -> None:
    located, ahead = (json.loads(run(c, small, "--json").stdout) for c in ("locate", "reach"))
    made = {f.name for f in fields(Location)}
    # What looking ahead rests on is the basis of `reach`.
    assert {*located, *ahead} == (made - {"ahead"}) | {"events"}
    assert {*ahead} == {"zone_reach", "next_devices", "detectability", "basis"}


def test_report_names_every_file_it_wrote(reported: tuple[Result, Path]) -> None:
    result, out = reported
    assert result.exit_code in (0, 3), result.output
    for name in ("index.html", "map.html", "results.gpkg", "results.xlsx"):
        assert str(out / name) in result.stdout
        assert (out / name).stat().st_size > 0
    assert "local rules" in result.stdout


def test_a_report_for_machines_leaves_out_the_long_tables(small: Path, tmp_path: Path) -> None:
    told = json.loads(run("report", small, "--json", "--out", tmp_path / "pages").stdout)
    assert {"zones", "meter_checks", "economics", "improvements", "events"} <= {*told}
    assert {"evidence", "next_devices", "zone_reach", "event_causes", "repair_checks"} <= {*told}
    assert {"building_checks", "sensor_checks", "shutoff_settings"} <= {*told}
    assert not {"nights", "days", "seven_nights", "audit"} & {*told}


def test_map_writes_the_map_alone(small: Path, tmp_path: Path) -> None:
    result = run("map", small, "--out", tmp_path / "pages")
    assert result.stdout == f"Map: {tmp_path / 'pages' / 'map.html'}\n"
    assert [p.name for p in (tmp_path / "pages").iterdir()] == ["map.html"]


def test_a_second_run_says_and_writes_the_same(small: Path, reported: tuple[Result, Path]) -> None:
    first, out = reported
    other = out.parent / "b"
    second = run("report", small, "--out", other)
    assert second.stdout.replace(str(other), str(out)) == first.stdout
    assert (other / "map.html").read_bytes() == (out / "map.html").read_bytes()


def test_score_without_a_truth_says_so(small: Path) -> None:
    result = run("score", small)
    assert result.exit_code == 2
    assert "truth.csv" in result.stderr


def test_a_missing_folder_is_one_line(tmp_path: Path) -> None:
    result = run("report", tmp_path / "nowhere")
    assert result.exit_code == 2
    assert result.stderr == (
        f"{tmp_path / 'nowhere'}: got no such folder, expected a folder with the district's "
        "layers, readings and district.toml. Check the path.\n"
    )


def test_an_unwritable_place_is_one_line(small: Path, tmp_path: Path) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("")
    result = run("report", small, "--out", blocked / "pages")
    assert result.exit_code == 2
    assert "Choose another place with --out." in result.stderr


@pytest.mark.usefixtures("opened_once")
@pytest.mark.parametrize("case", ALL, ids=lambda c: c.name)
def test_a_broken_folder_ends_with_its_sentence_and_nothing_written(
    case: Case, tmp_path: Path
) -> None:
    folder = make_folder(tmp_path / "small")
    case.breaker(folder)
    before = {p: p.read_bytes() for p in folder.rglob("*") if p.is_file()}
    checked = run("check", folder)
    assert case.sentence in checked.stdout + checked.stderr
    unusable = any(line.startswith("error: ") for line in checked.stdout.splitlines())
    assert checked.exit_code == (2 if unusable or checked.stderr else 3)
    # Of a folder that is only warned of all that is computed; of some the pages too.
    whole = checked.exit_code == 2 or ALL.index(case) % 5 == 0
    result = run("report", folder, "--out", tmp_path / "pages") if whole else run("locate", folder)
    if checked.exit_code == 2:
        assert result.exit_code == 2
        assert not (tmp_path / "pages").exists()
        assert case.sentence in result.stderr
    assert "Traceback" not in result.output + checked.output
    assert result.exception is None or isinstance(result.exception, SystemExit)
    kept = {p: p.read_bytes() for p in before if p.is_file()}
    assert kept == before, "the user's files were changed"
