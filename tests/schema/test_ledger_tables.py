from __future__ import annotations

import pytest

from district.schema.columns import Table, empty
from district.schema.ledger_tables import LEDGER_TABLES
from district.units import suffix_of


@pytest.mark.parametrize("table", LEDGER_TABLES, ids=lambda t: t.name)
def test_numbers_carry_their_unit_and_keys_are_columns(table: Table) -> None:
    bare = [c.name for c in table.columns if c.kind in ("real", "whole") and not suffix_of(c.name)]
    assert bare == []
    assert set(table.key) <= set(table.required())
    assert tuple(empty(table).columns) == table.names()
