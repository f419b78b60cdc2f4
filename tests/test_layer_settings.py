from __future__ import annotations

from typing import Any

import pyproj
import pytest
from pydantic import ValidationError

from district.layer_settings import Layer, MisplacedError, Part, check_values, coded, places
from district.schema.inputs import BREAKS, CONNECTIONS, PIPES, VALVES


def test_what_may_be_coded() -> None:
    assert set(coded(PIPES)) == {"material", "status"}
    assert coded(VALVES)["operable"] == ("true", "false")
    assert coded(CONNECTIONS)["use_class"] == ()


def test_meanings_may_be_written_as_toml_flags() -> None:
    layer = Layer.model_validate({"file": "v", "values": {"operable": {"seized": False}}})
    assert layer.values == {"operable": {"seized": "false"}}
    check_values(VALVES, layer.values)


@pytest.mark.parametrize(
    ("values", "place", "got", "expected"),
    [
        (
            {"diameter_mm": {"1": "pvc"}},
            "pipes.values.diameter_mm",
            "no such column",
            "a column with codes in it (material, status)",
        ),
        (
            {"status": {"1": "on"}},
            "pipes.values.status.1",
            '"on"',
            "one of in_use, abandoned, planned",
        ),
    ],
)
def test_unknown_columns_and_meanings(values: Any, place: str, got: str, expected: str) -> None:
    with pytest.raises(MisplacedError, match=expected.partition("(")[0]) as found:
        check_values(PIPES, values)
    assert (found.value.place, found.value.got, str(found.value)) == (place, got, expected)


def test_records_have_codes_too() -> None:
    check_values(BREAKS, {"kind": {"H": "main"}})


@pytest.mark.parametrize("crs", ["EPSG:27700", "EPSG:4326", "EPSG:7405", "epsg:2263", ""])
def test_systems_that_place_things_on_the_earth(crs: str) -> None:
    assert Layer(file="p", crs=crs).crs == crs


@pytest.mark.parametrize("crs", ["EPSG:1", "British grid", 'LOCAL_CS["site"]', "EPSG:5703"])
def test_others_are_refused(crs: str) -> None:
    with pytest.raises(ValidationError, match='such as "EPSG:27700"'):
        Layer(file="p", crs=crs)


def test_a_site_grid_places_nothing() -> None:
    assert not places(pyproj.CRS('LOCAL_CS["site",UNIT["metre",1]]'))


@pytest.mark.parametrize(("column", "unit"), [("setting_m", "bar"), ("diameter_mm", "in")])
def test_units_by_what_a_column_measures(column: str, unit: str) -> None:
    assert Layer(file="p", units={column: unit}).units == {column: unit}


@pytest.mark.parametrize(
    ("column", "unit"), [("setting_m", "gal"), ("diameter_mm", "bar"), ("resolution_l", "ft")]
)
def test_units_of_another_quantity(column: str, unit: str) -> None:
    with pytest.raises(ValidationError, match=f"as unit of {column}"):
        Layer(file="p", units={column: unit})


def test_limits_stand_around_what_they_limit() -> None:
    class Some(Part):
        x: float
        x_low: float = 0.0
        x_high: float = 1.0

    with pytest.raises(ValidationError, match="x from x_low, 0, to x_high, 1"):
        Some(x=2.0)


def test_volumes_in_gallons() -> None:
    layer = Layer.model_validate({"file": "m", "units": {"litres_per_pulse": "gal"}})
    assert layer.units == {"litres_per_pulse": "gal"}
