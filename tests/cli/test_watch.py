"""`district watch`: what it prints, how it ends, and that it tells only once it was told."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from district.cli import layout, main
from district.store.registry import REGISTRY
from tests.watch.long_folder import add_days, make_long


def watch(folder: Path, *words: str) -> Result:
    arguments = ["watch", str(folder), "--out", str(folder / "out"), *words]
    return CliRunner().invoke(main, arguments, prog_name="district")


def test_one_morning_after_another(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = make_long(tmp_path / "long", days=47)
    first = watch(folder)
    assert first.exit_code == 0, first.output
    assert first.stdout.splitlines()[:5] == [
        "Small: readings to 2025-03-20 01:00, nights to 2025-03-19.",
        "",
        "First run: nothing was told before, so all that stands open is new.",
        "",
        "Nothing to act on.",
    ]
    add_days(folder, 47, 54)
    # The pipe that is printed into breaks: nobody was told, so it is told again.
    kept = (folder / ".district" / REGISTRY).read_bytes()
    with monkeypatch.context() as patched:
        patched.setattr("district.cli.say_morning.print_morning", _broken)
        assert watch(folder).exit_code == 1
    assert (folder / ".district" / REGISTRY).read_bytes() == kept
    new = watch(folder, "--only-new")
    assert new.exit_code == 3
    said = new.stdout.splitlines()
    assert said[2] == "New since the nights to 2025-03-19:"
    assert said[3].startswith("- New: New leak (probability ")
    assert "in zone Upper: 0." in said[3]
    assert "To act on, in order" in said
    assert "licensed people" in new.stdout
    assert all(len(line) <= layout.WIDTH for line in said if not line.startswith("/"))
    assert said[-4:] == [
        str(folder / "out" / n)
        for n in ("morning.html", "alarms.json", "alarms.csv", "alarms.atom")
    ]
    assert watch(folder).stdout == new.stdout
    add_days(folder, 54, 55)
    later = watch(folder, "--only-new")
    assert later.exit_code == 0
    assert "Nothing new since the nights to 2025-03-26." in later.stdout
    told = watch(folder, "--json")
    assert told.exit_code == 3
    assert json.loads(told.stdout)["alarms"][0]["news"] == "standing"
    assert told.stdout == (folder / "out/alarms.json").read_text()
    stale = watch(folder, "--only-new", "--stale-after", "2")
    assert stale.exit_code == 3
    assert "old: look to what brings the files" in stale.stderr


def _broken(*_: object, **__: object) -> None:
    raise KeyboardInterrupt


def test_a_folder_that_is_none_is_one_line(tmp_path: Path) -> None:
    result = watch(tmp_path / "nowhere")
    assert result.exit_code == 2
    assert "nowhere" in result.stderr
    assert "Traceback" not in result.output
    assert not (tmp_path / "nowhere").exists()


def test_with_report_the_pages_are_written_too(tmp_path: Path) -> None:
    folder = make_long(tmp_path / "long", days=28)
    result = watch(folder, "--report")
    assert result.exit_code in (0, 3), result.output
    names = {p.name for p in (folder / "out").iterdir()}
    assert {"morning.html", "alarms.atom", "index.html", "map.html", "results.xlsx"} <= names
