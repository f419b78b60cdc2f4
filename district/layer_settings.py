"""Settings of one layer or record file: where it is, and what its user calls and means by things.

What `district.settings` reads under [layers.TABLE] and [records.TABLE].
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any

import pyproj
from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    field_validator,
    model_validator,
)

from district.refusals import MisplacedError, each_its_own
from district.schema.columns import Column, Table
from district.schema.inputs import PRESSURES
from district.units import KNOWN_UNITS, factor, suffix_of

YES_NO = ("true", "false")
_MEASURED = {
    "mm": "length",
    "m": "length",
    "km": "length",
    "l": "volume",
    "litres_per_pulse": "volume",
    "l_s": "rate",
}
"""Suffix of a column -> the quantity of the units its user may state."""


def _word(said: Any) -> Any:
    return str(said).lower() if isinstance(said, bool) else said


Columns = Annotated[dict[str, str], AfterValidator(each_its_own)]
"""What the user calls our columns (ours = theirs)."""
Meaning = Annotated[str, BeforeValidator(_word)]


class Part(BaseModel):
    """A section of the settings: frozen, without unknown keys, limits around what they limit."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    @model_validator(mode="after")
    def _within_its_limits(self) -> Part:
        for name in type(self).model_fields:
            low, high = (getattr(self, f"{name}{end}", None) for end in ("_low", "_high"))
            if low is not None and not low <= getattr(self, name) <= high:
                raise ValueError(f"{name} from {name}_low, {low:g}, to {name}_high, {high:g}")
        return self


class Layer(Part):
    """Where a layer or record file is, and what the user's columns, units and codes mean."""

    file: str
    layer: str = ""
    sheet: str = ""
    """Of a workbook of records; empty: the first that has the columns."""
    crs: str = ""
    """Coordinate reference system, where the file states none or a wrong one."""
    columns: Columns = {}
    units: dict[str, str] = {}
    values: dict[str, dict[str, Meaning]] = {}
    """By column: what each text or code in it means."""

    @field_validator("crs")
    @classmethod
    def _on_earth(cls, said: str) -> str:
        try:
            placed = not said or places(pyproj.CRS(said))
        except pyproj.exceptions.CRSError:
            placed = False
        if not placed:
            raise ValueError('a coordinate reference system such as "EPSG:27700"')
        return said

    @field_validator("units")
    @classmethod
    def _known(cls, units: dict[str, str]) -> dict[str, str]:
        for column, unit in units.items():
            ours = _MEASURED.get(suffix_of(column))
            if ours is None:
                raise ValueError(f"columns with a unit of length, volume or flow, not {column}")
            quantity = "pressure" if column in PRESSURES else ours
            try:
                factor(unit, {"volume": "l", "rate": "l/s"}.get(quantity, "m"), quantity=quantity)
            except ValueError:
                accepted = ", ".join(KNOWN_UNITS[quantity])
                raise ValueError(f"one of {accepted} as unit of {column}") from None
        return units


def places(crs: pyproj.CRS) -> bool:
    """Whether a coordinate reference system says where on the earth its coordinates are."""
    return bool(crs.is_geographic or crs.is_projected or crs.is_geocentric) and not (
        crs.is_engineering
    )


def coded(table: Table) -> dict[str, tuple[str, ...]]:
    """Columns whose values may be coded, and what a code may stand for; () for any text."""
    columns = [c for c in table.columns if _may_be_coded(c)]
    return {c.name: YES_NO if c.kind == "flag" else c.choices for c in columns}


def check_values(table: Table, values: Mapping[str, Mapping[str, str]]) -> None:
    """Raise `MisplacedError` where a mapping names no such column or target."""
    known = coded(table)
    for column, meanings in values.items():
        place = f"{table.name}.values.{column}"
        if column not in known:
            columns = f"a column with codes in it ({', '.join(known) or 'none here'})"
            raise MisplacedError(place, got="no such column", expected=columns)
        for code, meaning in meanings.items():
            if known[column] and meaning not in known[column]:
                choices = f"one of {', '.join(known[column])}"
                raise MisplacedError(f"{place}.{code}", got=f'"{meaning}"', expected=choices)


def _may_be_coded(column: Column) -> bool:
    free = column.kind == "text" and column.name in ("use_class", "reading_unit")
    return bool(column.choices) or column.kind == "flag" or free
