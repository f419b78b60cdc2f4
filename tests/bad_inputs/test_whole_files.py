"""A broken folder, from the command line: what is printed, how it ends, and what is left behind."""

from __future__ import annotations

import hashlib
import json
import os
from pathlib import Path

import pytest
from click.testing import CliRunner

from district.cli import main
from district.errors import visible
from tests.bad_inputs import cases, cases_layers, cases_readings, cases_settings, check_cases
from tests.bad_inputs.breakers import Case

CASES = (*cases_settings.CASES, *cases_layers.CASES, *cases_readings.CASES)
_SHORT = ("at least 14 nights", "at least 7")
"""What the sound small folder is told too: that it covers three days only."""


def tree(folder: Path) -> dict[str, str]:
    """Everything the user has in the folder, and what it holds."""
    found = {}
    for above, folders, files in os.walk(folder):
        if ".district" in folders:
            folders.remove(".district")
        for name in (*folders, *files):
            path = Path(above) / name
            if path.is_symlink():
                found[str(path)] = f"to {path.readlink()}"
            elif path.is_file():
                found[str(path)] = hashlib.sha256(path.read_bytes()).hexdigest()
            else:
                found[str(path)] = "folder" if path.is_dir() else "other"
    return found


def checked(folder: Path) -> tuple[int, list[dict[str, str]]]:
    """The exit code of `check`, and its findings; a traceback fails the test."""
    result = CliRunner().invoke(main, ["check", str(folder), "--json"], prog_name="district")
    assert result.exception is None or isinstance(result.exception, SystemExit)
    assert "Traceback" not in result.output
    findings: list[dict[str, str]] = json.loads(result.stdout)["findings"]
    return result.exit_code, findings


@pytest.mark.parametrize("case", CASES, ids=[c.name for c in CASES])
def test_all_that_is_wrong_with_a_file_is_told_in_one_pass(case: Case, small_folder: Path) -> None:
    case.breaker(small_folder)
    before = tree(small_folder)
    code, findings = checked(small_folder)
    said = tuple(
        f["sentence"]
        for f in findings
        if f["source"] == case.file and not f["expected"].startswith(_SHORT)
    )
    assert said == case.sentences
    assert code == (2 if case.errors else 3)
    assert all(f["sentence"] == visible(f["sentence"]) for f in findings)
    assert tree(small_folder) == before, "the user's files were changed"
    assert not list(small_folder.rglob(".district-*")), "half-written files are left"


@pytest.mark.parametrize("case", CASES[3::11], ids=[c.name for c in CASES[3::11]])
def test_what_is_kept_of_a_broken_folder_is_whole(case: Case, small_folder: Path) -> None:
    """A second run, which finds what the first kept, tells the same; so does one without."""
    case.breaker(small_folder)
    first = checked(small_folder)
    assert checked(small_folder) == first
    if (small_folder / ".district").exists():
        (small_folder / ".district").rename(small_folder.parent / "elsewhere")
        assert checked(small_folder) == first


@pytest.mark.parametrize(
    ("file", "said"),
    [
        (
            "readings/zones.csv",
            "readings/zones.csv: got a file that you may not read, expected readings: CSV, XLSX or "
            "Parquet with a heading and a row a time. Export it again, or remove it.",
        ),
        (
            "works.csv",
            "works.csv: got a file that you may not read, expected a table of what was done on the "
            "network, so that it is not taken for a leak. Save it again as CSV with a heading, or "
            "remove it.",
        ),
        (
            "district.toml",
            "district.toml: got what cannot be read as a file (Permission denied), expected TOML "
            "in UTF-8: key = value lines under [section] headings. Check what it is and who may "
            "read it.",
        ),
    ],
)
def test_a_file_that_may_not_be_read(
    small_folder: Path, monkeypatch: pytest.MonkeyPatch, file: str, said: str
) -> None:
    """Refused here and not by the disk: to an administrator no file is closed."""
    opened = Path.open

    def refuse(path: Path, *how: object, **more: object) -> object:
        if path == small_folder / file:
            raise PermissionError(13, "Permission denied")
        return opened(path, *how, **more)  # type: ignore[arg-type, call-overload]

    monkeypatch.setattr(Path, "open", refuse)
    code, findings = checked(small_folder)
    assert code == 2
    assert [f["sentence"] for f in findings if f["severity"] == "error"] == [said]


def test_a_file_where_the_folder_should_be(tmp_path: Path) -> None:
    (tmp_path / "district").write_text("x")
    code, findings = checked(tmp_path / "district")
    assert code == 2
    assert [f["sentence"].partition(": ")[2] for f in findings] == [
        "got a file, expected a folder with the district's layers, readings and district.toml. "
        "Check the path."
    ]


@pytest.mark.parametrize("kept", ["a file", "rubbish", "a link to itself"])
def test_what_stands_in_place_of_the_store_does_no_harm(small_folder: Path, kept: str) -> None:
    place = small_folder / ".district"
    if kept == "a file":
        place.write_text("x")
    elif kept == "rubbish":
        place.mkdir()
        (place / "stamp.json").write_text('{"fingerprint": ["x"]}')
        (place / "intervals").write_text("x")
    else:
        place.symlink_to(".district")
    code, findings = checked(small_folder)
    assert code == 3
    assert all(f["expected"].startswith(_SHORT) for f in findings)


def test_there_are_many_cases_each_with_a_sentence_of_its_own() -> None:
    first = [c.sentences[0] for c in CASES]
    told = {*first, *(c.sentence for c in (*cases.CASES, *check_cases.CASES))}
    assert len(told) >= 120
    names = [c.name for c in (*CASES, *cases.CASES, *check_cases.CASES)]
    assert len(set(names)) == len(names) >= 200
