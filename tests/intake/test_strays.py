from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from district.intake.strays import strays
from district.pipeline import balance_folder
from district.results import Balance
from tests.bad_inputs.small_folder import make_folder

DAY_US = 86_400_000_000


def days(*runs: tuple[int, int, int]) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    """Times by first day, count and step in days."""
    return np.concatenate(
        [(first + step * np.arange(count)) * DAY_US for first, count, step in runs]
    )


@pytest.mark.parametrize(
    ("times", "away"),
    [
        (days((9000, 50, 1)), []),
        (days((0, 1, 1), (9000, 50, 1)), [0]),
        (days((0, 2, 1), (4000, 1, 1), (9000, 50, 1), (20000, 1, 1)), [0, 1, 2, 53]),
        (days((0, 20, 1), (9000, 50, 1)), []),
        (days((0, 1, 1), (399, 50, 1)), []),
        (days((0, 5, 366)), []),
        (days((0, 1, 1), (1000, 12, 91)), []),
        (days((0, 1, 1), (9000, 1, 1)), []),
        (days((0, 0, 1)), []),
    ],
    ids=["none", "one", "several", "as many", "near", "yearly", "quarterly", "two", "nothing"],
)
def test_times_far_from_most(
    times: np.ndarray[tuple[int], np.dtype[np.int64]], away: list[int]
) -> None:
    assert np.flatnonzero(strays(times)).tolist() == away


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Balance:
    return balance_folder(make_folder(tmp_path_factory.mktemp("sound") / "small"))[1]


@pytest.mark.parametrize("when", ["1980-01-06 00:00", "2000-01-01 00:00", "2099-01-01 00:00"])
def test_a_lost_clock_is_told_and_changes_nothing(
    sound: Balance, tmp_path: Path, when: str
) -> None:
    lost = make_folder(tmp_path / "lost")
    path = lost / "readings/zones.csv"
    path.write_text(path.read_text() + f"MA,{when},0.5\n")
    opened, found = balance_folder(lost)
    assert (
        f"readings/zones.csv, row 148: got MA on {when[:10]}, expected a time near the other "
        "readings of the device. Correct the time, or set the logger's clock; the reading is left "
        "out."
    ) in [f.sentence() for f in opened.findings]
    assert found.annual.equals(sound.annual)
    assert found.zones.equals(sound.zones)
    assert found.basis == sound.basis
