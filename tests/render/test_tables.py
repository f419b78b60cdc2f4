from __future__ import annotations

import io

import pandas as pd
import pytest

from district.render.tables import as_csv, guarded, result_tables, write_tables
from district.schema import outputs, stored


def test_one_file_a_table_with_the_names_of_the_schema(report, tmp_path):
    written = write_tables(report, tmp_path)
    names = [t.name for t in outputs.OUTPUTS] + [stored.DEVICE_QUALITY.name, "defaults"]
    assert [p.stem for p in written] == names
    for path, (table, _) in zip(written, result_tables(report), strict=True):
        head = path.read_bytes().split(b"\n")[0].decode()
        assert head == ",".join(table.names())
        assert b"\r" not in path.read_bytes()


def test_values_come_back_as_they_went(report):
    for table, frame in result_tables(report):
        back = pd.read_csv(io.StringIO(as_csv(table, frame)), dtype=object, keep_default_na=False)
        assert len(back) == len(frame)
        for column in table.columns:
            for value, text in zip(frame[column.name], back[column.name], strict=True):
                if text == "":
                    assert pd.isna(value) or value == ""
                elif column.kind in ("real", "whole"):
                    assert float(text) == pytest.approx(float(value), rel=1e-9)
                elif column.kind == "flag":
                    assert text == ("true" if value else "false")
                elif column.kind in ("date", "time"):
                    assert pd.Timestamp(text) == pd.Timestamp(value)
                else:
                    assert text.removeprefix("'") == str(value)


@pytest.mark.parametrize("text", ["=1+1", "+44", "-A", "@x", "\t=1", "'=1"])
def test_text_that_would_run_is_guarded(text):
    assert guarded(text) == f"'{text}"


def test_ordinary_text_and_negative_numbers_are_left(report):
    assert guarded("P-12") == "P-12"
    written = {table.name: as_csv(table, frame) for table, frame in result_tables(report)}
    assert ",-0.08," in written["zone_summary"]
    assert "\n'=SUM(A1)," in written["device_quality"]
    assert ",2031-02-28T23:00:00+00:00," in written["device_quality"]
