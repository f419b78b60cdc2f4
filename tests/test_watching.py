"""A morning after another on real files: told once, against the data before, whatever breaks."""

from __future__ import annotations

import shutil
import subprocess
import sys
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from district import files, pipeline, store, watching
from district.errors import BusyError, InputError
from district.store.registry import REGISTRY
from district.watching import Watched, alone, remember
from tests.watch.long_folder import add_days, make_long

LEAK_ID = "E-A-2025-03-20"


def tell(folder: Path, out: Path) -> Watched:
    """One morning, told and remembered."""
    found = pipeline.watch_folder(folder, out)
    remember(found)
    return found


def news(found: Watched) -> dict[str, str]:
    rows = found.morning.morning
    return dict(zip(rows["alarm_id"], rows["news"], strict=True))


def written(out: Path) -> dict[str, bytes]:
    return {p.name: p.read_bytes() for p in sorted(out.iterdir())}


@pytest.fixture(scope="module")
def quiet(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder of which everything was told, a day before the leak."""
    folder = make_long(tmp_path_factory.mktemp("watching") / "quiet", days=47)
    found = tell(folder, folder / "out")
    assert news(found) == {}
    assert found.morning.before is None
    return folder


def copied(folder: Path, to: Path) -> Path:
    shutil.copytree(folder, to)
    return to


@pytest.fixture(scope="module")
def leaking(quiet: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Watched]:
    """The same folder a week later, and what was told of it into `out` then."""
    folder = copied(quiet, tmp_path_factory.mktemp("leaking") / "folder")
    add_days(folder, 47, 54)
    return folder, tell(folder, folder / "out")


def test_new_files_bring_what_is_new_and_the_same_data_say_the_same(
    leaking: tuple[Path, Watched], tmp_path: Path
) -> None:
    told, first = leaking
    folder, out = copied(told, tmp_path / "folder"), tmp_path / "out"
    assert news(first) == {LEAK_ID: "new"}
    assert first.morning.before == date(2025, 3, 19)
    bytes_first, kept = written(told / "out"), (first.place / REGISTRY).read_bytes()
    again = tell(folder, out)
    assert news(again) == {LEAK_ID: "new"}
    assert written(out) == bytes_first
    assert (again.place / REGISTRY).read_bytes() == kept
    # The clocks go forward in the night to 30 March: nobody is called for that.
    add_days(folder, 54, 58)
    later = tell(folder, out)
    assert news(later) == {LEAK_ID: "standing"}
    assert later.morning.basis.last == date(2025, 3, 30)
    assert later.morning.before == date(2025, 3, 26)
    # Readings kept are only a copy; what was told is remembered apart from them.
    store.clear(later.place)
    assert news(tell(folder, out)) == {LEAK_ID: "standing"}
    (later.place / REGISTRY).unlink()
    lost = tell(folder, out)
    assert lost.morning.before is None
    assert news(lost) == {LEAK_ID: "new"}


def test_a_run_that_breaks_off_tells_the_same_next_time(
    quiet: Path, leaking: tuple[Path, Watched], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Killed at each renaming in turn: what the next run tells is what an unbroken one does."""
    told, unbroken = leaking
    folder, out = copied(quiet, tmp_path / "folder"), tmp_path / "out"
    add_days(folder, 47, 54)
    move = files._move
    left = 0

    def killed(source: Path, target: Path) -> None:
        nonlocal left
        left -= 1
        if left == 0:
            raise KeyboardInterrupt
        move(source, target)

    monkeypatch.setattr(files, "_move", killed)
    # Within the store; then, once that is whole, at the drafts of the four files, at their
    # taking their place, and at the registry.
    for broken_at in (2, 12):
        left = broken_at
        with pytest.raises(KeyboardInterrupt):
            tell(folder, out)
    left = 0
    opened, found, events = pipeline.events_folder(folder)
    for broken_at in (1, 4, 5, 8, 9):
        left = broken_at
        with pytest.raises(KeyboardInterrupt):
            remember(watching.watched(opened, found, events, out))
    again = tell(folder, out)
    assert news(again) == news(unbroken) == {LEAK_ID: "new"}
    assert written(out) == written(told / "out")


def test_late_readings_of_last_week(quiet: Path, tmp_path: Path) -> None:
    """The zone meter of the leak came a week later than the others: blind, then a past start."""
    folder, out = copied(quiet, tmp_path / "folder"), tmp_path / "out"
    add_days(folder, 47, 54, devices="MB CM1 PL1 WF1")
    blind = tell(folder, out)
    assert news(blind) == {"D-MA-2025-03-20": "new"}
    assert "Upper blind" in blind.morning.morning["headline"].iloc[0]
    edition = blind.morning.edition
    path = folder / "readings/zones_late.csv"
    whole = add_days(folder, 47, 54)
    whole.rename(path)
    add_days(folder, 47, 54, devices="MB CM1 PL1 WF1")
    late = tell(folder, out)
    assert news(late) == {"D-MA-2025-03-20": "closed", LEAK_ID: "new"}
    # The last reading is no later than before: readers of the feed must see a new edition still.
    assert edition is not None
    assert late.morning.readings_to == blind.morning.readings_to
    assert late.morning.edition == edition + timedelta(seconds=1)


def test_a_file_that_came_half_is_told_and_the_rest_goes_on(quiet: Path, tmp_path: Path) -> None:
    folder, out = copied(quiet, tmp_path / "folder"), tmp_path / "out"
    path = add_days(folder, 47, 54)
    whole = path.read_bytes()
    (folder / "readings/zones_today.csv").write_bytes(b"PAR1\x00\x00half")
    cut = whole[: whole.rindex(b",")]
    path.write_bytes(cut)
    found = tell(folder, out)
    assert news(found) == {LEAK_ID: "new"}
    told = [f for f in found.morning.findings if f.source == "readings/zones_today.csv"]
    assert [f.severity for f in told] == ["warning"]
    assert "until then it is left out" in told[0].sentence()
    # Run again, the store serves; checked, the file is an error as ever.
    assert news(tell(folder, out)) == {LEAK_ID: "new"}
    with pytest.raises(InputError, match=r"zones_today"):
        pipeline.balance_folder(folder)
    assert news(tell(folder, out)) == {LEAK_ID: "new"}


def test_settings_and_records_are_data_too(leaking: tuple[Path, Watched], tmp_path: Path) -> None:
    """A work put on record explains the leak: news, though no reading came."""
    folder, out = copied(leaking[0], tmp_path / "folder"), tmp_path / "out"
    with (folder / "works.csv").open("a") as works:
        works.write("2025-03-19 12:00,2025-03-29 12:00,planned_use,A,filling a pool\n")
    found = tell(folder, out)
    assert news(found) == {LEAK_ID: "closed"}
    assert found.morning.morning["state"].tolist() == ["explained"]


def test_only_one_run_tells_at_a_time(quiet: Path, tmp_path: Path) -> None:
    folder = copied(quiet, tmp_path / "folder")
    said: list[str] = []
    with alone(folder, say=said.append):
        code = (
            "import sys; from pathlib import Path; from district.watching import alone\n"
            f"with alone(Path({str(folder)!r}), say=print, wait_s=0.3): print('in')"
        )
        other = subprocess.run(
            [sys.executable, "-c", code], capture_output=True, text=True, check=False
        )
        assert "another run is at work" in other.stderr
        assert "in" not in other.stdout.splitlines()
        with (
            pytest.raises(BusyError, match="another run"),
            alone(folder, say=said.append, wait_s=0.0),
        ):
            pass
    assert said == []
    with alone(folder, say=said.append, wait_s=0.0):
        pass


def test_no_lock_is_left_in_a_folder_that_is_none_of_ours(tmp_path: Path) -> None:
    with alone(tmp_path, say=print):
        pass
    assert list(tmp_path.iterdir()) == []


def test_the_newest_reading_is_an_instant(quiet: Path, tmp_path: Path) -> None:
    found = tell(copied(quiet, tmp_path / "folder"), tmp_path / "out")
    assert found.morning.readings_to == datetime(2025, 3, 20, tzinfo=UTC)
    assert watching.WAIT_S > 60
