from __future__ import annotations

import pytest

from district.schema.columns import Table
from district.schema.night_tables import NIGHT_PERIODS, NIGHT_TABLES, PERIOD_KINDS
from district.schema.outputs import OUTPUTS


@pytest.mark.parametrize("table", NIGHT_TABLES, ids=lambda t: t.name)
def test_the_key_stands_among_the_columns_and_the_table_among_the_outputs(table: Table) -> None:
    assert set(table.key) <= set(table.names())
    assert table in OUTPUTS


def test_a_period_is_of_a_declared_kind() -> None:
    assert NIGHT_PERIODS["period_kind"].choices == PERIOD_KINDS
