"""Tests of `district.schema.isolate_tables`."""

from __future__ import annotations

from district.schema.isolate_tables import ISOLATE_TABLES, ISOLATION_CAUTION, LOSSES, losses
from district.units import suffix_of


def test_every_estimate_has_its_limits() -> None:
    for table in ISOLATE_TABLES:
        names = table.names()
        assert all(f"{n[:-4]}_high" in names for n in names if n.endswith("_low"))


def test_every_number_carries_its_unit_and_every_key_is_a_column() -> None:
    for table in ISOLATE_TABLES:
        assert set(table.key) <= set(table.names())
        bare = {
            c.name for c in table.columns if c.kind in ("real", "whole") and not suffix_of(c.name)
        }
        assert bare <= {"rank", "properties", "floor"}


def test_losses_are_told_under_other_names_in_the_same_order() -> None:
    assert [c.name for c in losses("more", "more")] == [f"more_{c.name}" for c in LOSSES]
    assert all(c.meaning.startswith("more: ") for c in losses("more", "more"))


def test_the_caution_speaks_of_what_can_hurt() -> None:
    for word in ("fire", "dialysis", "licensed", "local rules", "slowly", "prove", "chamber"):
        assert word in ISOLATION_CAUTION
