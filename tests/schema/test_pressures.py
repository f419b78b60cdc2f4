"""The tables of pressure."""

from __future__ import annotations

import pytest

from district.schema.outputs import OUTPUTS
from district.schema.pressures import ZONE_EXPONENTS, ZONE_PRESSURE


@pytest.mark.parametrize("table", [ZONE_PRESSURE, ZONE_EXPONENTS], ids=lambda t: t.name)
def test_every_estimate_has_both_limits_and_the_table_is_handed_on(table: object) -> None:
    assert table in OUTPUTS
    names = table.names()  # type: ignore[attr-defined]
    ends = {n.removesuffix("_low").removesuffix("_high") for n in names if n.endswith("_low")}
    assert all(f"{n}_high" in names and n in names for n in ends)
    assert {"exponent_index"} <= ends


def test_the_saving_says_first_who_must_be_asked() -> None:
    assert "fire supply" in ZONE_PRESSURE.meaning
