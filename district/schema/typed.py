"""Rows that a stage has made, in the columns and kinds that their table declares."""

from __future__ import annotations

import pandas as pd

from district.schema.columns import Table
from district.words import true


def typed(rows: pd.DataFrame, table: Table) -> pd.DataFrame:
    """The rows with the table's columns in order and of their kind; other columns are left out.

    A column that `rows` lack is empty. Numbers are floats, so that they can be missing; text is
    never missing but '', a flag never but false. Rows keep their order and index; `rows` are not
    written to.
    """
    frame = rows.reindex(columns=list(table.names()))
    for column in table.columns:
        values = frame[column.name]
        if column.kind in ("real", "whole"):
            frame[column.name] = values.astype(float)
        elif column.kind == "date":
            frame[column.name] = pd.to_datetime(values).astype("datetime64[us]")
        elif column.kind == "time":
            frame[column.name] = pd.to_datetime(values, utc=True).astype("datetime64[us, UTC]")
        elif column.kind == "flag":
            frame[column.name] = values.map(true).astype(bool)
        elif column.kind == "text":
            frame[column.name] = values.astype(object).where(values.notna(), "")
    return frame
