"""Tables declared as data: what each column is called, holds, may be, and means."""

from district.schema.columns import Column, Table, check, empty

__all__ = ["Column", "Table", "check", "empty"]
