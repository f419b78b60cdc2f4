from __future__ import annotations

from district.schema.kept import KEPT


def test_every_table_names_what_it_keeps_once() -> None:
    for table in KEPT:
        assert len(set(table.names())) == len(table.names())
        assert set(table.key) <= set(table.names())
