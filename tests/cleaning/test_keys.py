from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from district.cleaning.keys import group_of_each, groups_for, marks_of, seldom_key, third_key
from district.intake import lanes_of
from district.intake.devices import Device
from tests.intake.test_lanes import every, presence

DEVICES = {i: Device(i, "register", "meter", 1.0) for i in ("A", "B")}


def frame(**times: np.ndarray) -> pd.DataFrame:
    made = presence(**times)
    return made.assign(mark=np.arange(len(made), dtype=np.uint64))


def keys(
    made: pd.DataFrame, devices: dict[str, Device] = DEVICES, kind: str = ""
) -> dict[int, str]:
    marks = marks_of(lanes_of(made), devices, [kind])
    thirds = sorted({b // 2 for _, b in marks.of_bin})
    return {int(t): third_key(marks, 0, t, []) for t in thirds}


BASE = frame(A=every(1, 24 * 100), B=every(1, 24 * 100))


def test_a_third_follows_from_its_window_alone() -> None:
    first = keys(BASE)
    for at in (0, len(BASE) // 4, len(BASE) - 1):
        other = BASE.copy()
        other.loc[at, "mark"] += np.uint64(1000)
        now = keys(other)
        changed = {t for t in first if now[t] != first[t]}
        third, head = divmod(int(BASE.loc[at, "bin"]), 2)
        # It tells of its own third and the three after; its first days of the one before too.
        expected = {*range(third, third + 4), *([third - 1] if head == 0 else [])}
        assert changed == expected & set(first)


def test_devices_and_settings_are_in_every_key_and_empty_premises_in_none() -> None:
    first = keys(BASE)
    for other in (
        keys(BASE, DEVICES | {"A": Device("A", "register", "meter", 0.001)}),
        keys(BASE, kind="stamp"),
    ):
        assert not set(first.values()) & set(other.values())
    away = Device("A", "register", "meter", 1.0, empty=((0, 1),))
    assert keys(BASE, DEVICES | {"A": away}) == first


def test_a_change_of_meter_is_in_the_keys_of_its_time() -> None:
    start, end = int(BASE["first_us"].min()), int(BASE["last_us"].max())
    changed = Device("A", "register", "meter", 1.0, changes=((end - 10, end),))
    first, now = keys(BASE), keys(BASE, DEVICES | {"A": changed})
    assert first[min(first)] == now[min(first)]
    assert first[max(first)] != now[max(first)]
    assert start < end


def test_the_order_of_rows_does_not_matter() -> None:
    made = frame(A=every(24 * 30, 20), B=every(1, 2000))
    marks = marks_of(lanes_of(made), DEVICES, [])
    assert set(marks.seldom) == {0}
    again = marks_of(lanes_of(made.copy()), DEVICES, [])
    assert seldom_key(again, 0) == seldom_key(marks, 0)


@pytest.mark.parametrize(("rows", "groups"), [(1, 1), (2_000_000, 1), (2_000_001, 4), (9e6, 16)])
def test_many_readings_are_kept_in_groups(rows: float, groups: int) -> None:
    made = pd.DataFrame({"bin": [4, 5], "rows_count": [int(rows) - 1, 1]})
    assert groups_for(made) == groups
    assert set(group_of_each([f"M{n}" for n in range(200)], groups)) == set(range(groups))
