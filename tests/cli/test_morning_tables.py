from __future__ import annotations

from rich.table import Table

from district.cli.morning_tables import open_table
from district.watch import KINDS
from tests.render.mornings import morning, no_morning


def cells(table: Table, column: int) -> list[str]:
    return [str(c) for c in table.columns[column].cells]


def test_what_is_open_stands_in_order_with_its_news() -> None:
    table = open_table(morning().morning, KINDS, currency="EUR", first=False)
    assert cells(table, 0) == ["1", "2", "3", "4"]
    assert cells(table, 2)[:2] == ["new leak", "new leak (new)"]
    assert "flow that never stops (new)" in cells(table, 2)
    assert cells(table, 3)[1] == "2031-03-10"


def test_on_a_first_run_not_each_is_called_new() -> None:
    table = open_table(morning(first=True).morning, KINDS, currency="EUR", first=True)
    assert not any("(new)" in c for c in cells(table, 2))


def test_nothing_open_is_no_row() -> None:
    assert open_table(no_morning().morning, KINDS, currency="EUR", first=True).row_count == 0


def test_an_event_stands_with_how_likely_it_is_that() -> None:
    rows = morning().morning
    shares = rows["rank"].eq(1).map({True: 0.874, False: None})
    table = open_table(rows.assign(kind_share=shares), KINDS, currency="EUR", first=True)
    assert cells(table, 2)[:2] == ["new leak 87 %", "new leak"]
