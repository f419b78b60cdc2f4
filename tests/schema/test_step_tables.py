"""Tests of `district.schema.step_tables`."""

from __future__ import annotations

from district.schema.step_tables import STEP_CAUTION, STEP_TABLES
from district.units import suffix_of


def test_every_estimate_has_its_limits_and_every_number_its_unit() -> None:
    for table in STEP_TABLES:
        names = table.names()
        assert set(table.key) <= set(names)
        assert all(f"{n[:-4]}_high" in names for n in names if n.endswith("_low"))
        bare = {
            c.name for c in table.columns if c.kind in ("real", "whole") and not suffix_of(c.name)
        }
        assert bare <= {"rank", "properties"}


def test_the_caution_speaks_of_what_can_hurt() -> None:
    for word in (
        "fire service", "dialysis", "licensed", "local rules", "slowly", "turns", "chamber",
        "traffic", "flush", "discoloured", "quality",
    ):  # fmt: skip
        assert word in STEP_CAUTION
