from __future__ import annotations

import getpass
import os
import time
from pathlib import Path

import pytest

from district.settings import Costs, District, Layer, Night, Readings, Settings
from district.store import digests, fingerprint, freshness, looks, method, place, seen


def test_the_place_is_in_the_folder(tmp_path: Path) -> None:
    assert place(tmp_path) == tmp_path / ".district"
    assert not (tmp_path / ".district").exists()


def test_the_place_of_a_folder_that_cannot_be_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(os, "access", lambda *_: False)
    first, second = place(tmp_path / "a"), place(tmp_path / "b")
    assert first != second
    assert first == place(tmp_path / "a")
    assert not first.is_relative_to(tmp_path)


def test_what_is_kept_but_may_not_be_read_is_kept_elsewhere(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept = tmp_path / ".district"
    kept.mkdir()
    assert place(tmp_path) == kept
    monkeypatch.setattr(os, "access", lambda path, _: path != kept)
    assert not place(tmp_path).is_relative_to(tmp_path)


def test_a_user_without_name_has_a_place_too(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def nameless() -> str:
        raise KeyError("uid not found")

    monkeypatch.setattr(os, "access", lambda *_: False)
    monkeypatch.setattr(getpass, "getuser", nameless)
    assert place(tmp_path).parent.name == f"district-{os.getuid()}"


def mark(folder: Path, files: list[Path], settings: Settings) -> str:
    return fingerprint(folder, digests(files), settings)


def test_the_fingerprint_follows_contents_names_and_reading_settings(tmp_path: Path) -> None:
    a, b = tmp_path / "a.csv", tmp_path / "b.csv"
    a.write_text("1")
    b.write_text("2")
    first = mark(tmp_path, [a, b], Settings())
    assert mark(tmp_path, [b, a], Settings()) == first
    assert mark(tmp_path, [a], Settings()) != first
    for other in (
        Settings(district=District(timezone="Europe/London")),
        Settings(readings=(Readings(files="*.csv"),)),
        Settings(layers={"meters": Layer(file="m.gpkg")}),
    ):
        assert mark(tmp_path, [a, b], other) != first
    b.write_text("3")
    assert mark(tmp_path, [a, b], Settings()) != first


def test_settings_that_do_not_touch_readings_leave_it(tmp_path: Path) -> None:
    other = Settings(costs=Costs(water_currency_m3=3), night=Night(recent_nights=7))
    assert mark(tmp_path, [], other) == mark(tmp_path, [], Settings())


def test_files_that_are_gone_change_it(tmp_path: Path) -> None:
    a = tmp_path / "a.csv"
    a.write_text("1")
    before = mark(tmp_path, [a], Settings())
    a.unlink()
    assert mark(tmp_path, [a], Settings()) != before


def test_other_tables_are_another_method(monkeypatch: pytest.MonkeyPatch) -> None:
    before = method()
    monkeypatch.setattr(freshness, "_TABLES", ())
    assert method() != before


def test_a_file_that_may_not_be_read_or_whose_name_is_no_text(tmp_path: Path) -> None:
    odd = tmp_path / os.fsdecode(b"z\xff.csv")
    odd.write_text("1")
    first = mark(tmp_path, [odd, tmp_path], Settings())
    odd.write_text("2")
    assert mark(tmp_path, [odd, tmp_path], Settings()) != first


def old(path: Path, text: str, *, age_s: float = 100.0) -> None:
    """A file whose contents were last changed some time ago."""
    path.write_text(text)
    then = time.time() - age_s
    os.utime(path, (then, then))


def unhurried(monkeypatch: pytest.MonkeyPatch) -> None:
    """As if the look were taken a minute later: nobody can set when an entry was changed."""
    now = time.time_ns
    monkeypatch.setattr(freshness.time, "time_ns", lambda: now() + 60_000_000_000)


def test_what_stands_there_as_before_is_not_hashed_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    unhurried(monkeypatch)
    a, gone = tmp_path / "a.csv", tmp_path / "gone.csv"
    a.write_text("1")
    first = looks([a, gone], tmp_path, {})
    known = seen(first, tmp_path)
    assert list(known) == ["a.csv"]
    assert first[gone].digest == ""
    monkeypatch.setattr(freshness, "digests", lambda paths: dict.fromkeys(paths, "hashed"))
    again = looks([a], tmp_path, known)
    assert again == {a: first[a]}


@pytest.mark.parametrize("how", ["longer", "as long", "as long and as old", "another file"])
def test_what_was_changed_is_hashed_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, how: str
) -> None:
    unhurried(monkeypatch)
    a = tmp_path / "a.csv"
    old(a, "1")
    at = a.stat()
    known = seen(looks([a], tmp_path, {}), tmp_path)
    if how == "another file":
        other = tmp_path / "b.csv"
        other.write_text("2")
        other.replace(a)
    else:
        a.write_text("22" if how == "longer" else "2")
    if how.endswith("old"):
        os.utime(a, ns=(at.st_atime_ns, at.st_mtime_ns))
    assert looks([a], tmp_path, known)[a].digest == digests([a])[a]


def test_a_file_changed_just_now_is_looked_at_anew(tmp_path: Path) -> None:
    a = tmp_path / "a.csv"
    a.write_text("1")
    first = looks([a], tmp_path, {})
    assert first[a].stamp == ""
    assert seen(first, tmp_path) == {}


def test_a_file_changed_while_it_is_hashed_is_looked_at_anew(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    unhurried(monkeypatch)
    a = tmp_path / "a.csv"
    old(a, "1")
    hashed = freshness.digests

    def meanwhile(paths: list[Path]) -> dict[Path, str]:
        found = hashed(paths)
        a.write_text("22")
        return found

    monkeypatch.setattr(freshness, "digests", meanwhile)
    assert looks([a], tmp_path, {})[a].stamp == ""
