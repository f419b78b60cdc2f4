from __future__ import annotations

from district.schema.stored import QUALITIES, STORED


def test_names_are_told_apart() -> None:
    names = [t.name for t in STORED]
    assert len(set(names)) == len(names)


def test_only_ok_and_gap_carry_volume() -> None:
    assert QUALITIES[:2] == ("ok", "gap")
