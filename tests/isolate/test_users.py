"""Tests of `district.isolate.users`."""

from __future__ import annotations

import pandas as pd

from district.isolate.users import is_critical, kind_of_users, urgency


def taps(*rows: tuple[str | None, bool | None, str]) -> pd.DataFrame:
    return pd.DataFrame(rows, columns=["use_class", "critical", "building_id"])


def test_class_flag_and_name_of_a_flagged_building_tell_why() -> None:
    given = taps(
        ("household", False, ""),
        ("hospital", False, ""),
        ("fire_main", False, ""),
        ("industry", False, ""),
        ("household", True, ""),
        ("campus", True, "Sallow Clinic"),
        ("campus", False, "Old Clinic Flats"),
        (None, None, ""),
    )
    assert kind_of_users(given).tolist() == [
        "other", "medical", "fire", "process", "critical", "medical", "other", "other",
    ]  # fmt: skip
    assert is_critical(given).tolist() == [False, True, True, True, True, True, False, False]


def test_medical_users_and_fire_supply_come_first() -> None:
    kinds = ["other", "critical", "process", "fire", "medical"]
    assert urgency(kinds).tolist() == [4, 3, 2, 1, 0]
