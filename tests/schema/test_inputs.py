from __future__ import annotations

from district.schema.inputs import LAYERS, NEEDED_LAYERS, OTHER_LAYERS, RECORDS


def test_every_layer_has_a_key_and_a_shape() -> None:
    for table in (*LAYERS, *OTHER_LAYERS):
        assert table.key, table.name
        assert table.geometry, table.name
        assert table["geometry"].required


def test_needed_layers_exist() -> None:
    assert set(NEEDED_LAYERS) <= {t.name for t in LAYERS}


def test_a_default_obeys_its_own_column() -> None:
    for table in (*LAYERS, *OTHER_LAYERS, *RECORDS):
        for column in table.columns:
            if column.choices and column.default is not None:
                assert column.default in column.choices, (table.name, column.name)
            if column.required:
                assert column.default is None, (table.name, column.name)
