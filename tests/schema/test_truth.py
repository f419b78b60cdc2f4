from district.schema import empty
from district.schema.truth import SEEDED_KINDS, TRUTH, TRUTH_NIGHTS


def test_tables_have_keys_among_their_columns():
    for table in (TRUTH, TRUTH_NIGHTS):
        assert set(table.key) <= set(table.names())
        assert list(empty(table).columns) == list(table.names())


def test_kinds_are_declared_as_choices():
    assert TRUTH["what"].choices == SEEDED_KINDS
