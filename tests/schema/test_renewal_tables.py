"""The tables of the plan of renewal hold every input of a pipe's score."""

from __future__ import annotations

import pytest

from district.schema.columns import empty
from district.schema.renewal_tables import PIPE_COSTS, PIPE_RATES, RENEWAL, RENEWAL_PIPES


@pytest.mark.parametrize("table", RENEWAL, ids=lambda t: t.name)
def test_each_table_can_be_empty(table: object) -> None:
    assert list(empty(table).columns) == list(table.names())  # type: ignore[arg-type, attr-defined]


def test_a_pipes_score_stands_beside_all_its_inputs() -> None:
    assert {*PIPE_RATES.names(), *PIPE_COSTS.names()} < set(RENEWAL_PIPES.names())


def test_no_two_tables_have_one_name() -> None:
    assert len({t.name for t in RENEWAL}) == len(RENEWAL)
