from __future__ import annotations

import pytest

from district.schema.columns import Table
from district.schema.outputs import OUTPUTS, REPAIRS
from district.units import suffix_of


@pytest.mark.parametrize("table", OUTPUTS, ids=lambda t: t.name)
def test_limits_stand_behind_their_estimate(table: Table) -> None:
    names = table.names()
    for n, name in enumerate(names):
        if name.endswith("_low"):
            assert names[n - 1] == name.removesuffix("_low")
            assert names[n + 1] == name.removesuffix("_low") + "_high"


def test_every_distance_of_a_repair_carries_its_unit() -> None:
    numbers = [c.name for c in REPAIRS.columns if c.kind in ("real", "whole")]
    assert [suffix_of(n) for n in numbers] == ["m"]
    assert REPAIRS.geometry == "Point"
