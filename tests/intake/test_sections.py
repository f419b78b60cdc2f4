from __future__ import annotations

import tomllib
from typing import Any

from district.intake.proposal import ColumnGuess, LayerGuess, ReadingsGuess, Sureness
from district.intake.sections import layer_section, no_layer, no_readings, readings_section
from district.schema.inputs import SENSORS
from district.settings import Settings


def read(lines: list[str]) -> dict[str, Any]:
    said = tomllib.loads("\n".join(lines))
    Settings(**said)
    return said


def pipes(sureness: Sureness = "sure") -> LayerGuess:
    columns = (
        ColumnGuess("pipe_id", "Pipe_ID", "sure", "its own name"),
        ColumnGuess("diameter_mm", 'DIA "in"', "likely", "looks like inches", unit="in"),
        ColumnGuess("material", "MATL", "unsure", "near", remark="its values (CI) do not fit"),
    )
    return LayerGuess(
        "pipes", "gis/a b.gpkg", "Mains 1", sureness, "its name", columns, (), ("other.shp",)
    )


def test_a_layer_names_file_columns_and_units_that_are_likely() -> None:
    lines = layer_section(pipes())
    assert read(lines)["layers"]["pipes"] == {
        "file": "gis/a b.gpkg",
        "layer": "Mains 1",
        "columns": {"diameter_mm": 'DIA "in"'},
        "units": {"diameter_mm": "in"},
    }
    text = "\n".join(lines)
    assert '#material = "MATL"  # unsure: near; but its values (CI) do not fit' in text
    assert "# By their own names: pipe_id" in text
    assert "other.shp" in text


def test_codes_that_mean_nothing_are_listed_to_fill_in() -> None:
    column = ColumnGuess("material", "MAT", "sure", "usual", unread=("12", 'B "x"'))
    guess = LayerGuess("pipes", "p.shp", "", "sure", "", (column,), placed=False)
    lines = layer_section(guess)
    assert read(lines)["layers"]["pipes"] == {"file": "p.shp", "columns": {"material": "MAT"}}
    assert '#crs = ""  # the file states none; fill in yours, such as "EPSG:27700"' in lines
    codes = lines[lines.index(next(li for li in lines if ".values." in li)) :]
    assert codes[0].startswith(
        "#[layers.pipes.values.material]  # not understood; say what each is: one of cast_iron, "
    )
    assert codes[1:] == ['#"12" = ""', r'#"B \"x\"" = ""']
    filled = [li.replace('""', '"steel"').removeprefix("#") for li in codes]
    assert read([*lines, *filled])["layers"]["pipes"]["values"]["material"]["12"] == "steel"


def test_of_very_many_codes_the_rest_is_counted() -> None:
    column = ColumnGuess("material", "MAT", "sure", "", unread=tuple(map(str, range(50))))
    lines = layer_section(LayerGuess("pipes", "p.shp", "", "sure", "", (column,)))
    assert lines[-1] == "# and 10 more"


def test_what_is_unsure_is_off_whole() -> None:
    lines = layer_section(pipes("unsure"))
    assert read(lines) == {}
    on = [line[1:] if line.startswith("#") and line[1:2] != " " else line for line in lines]
    assert read(on)["layers"]["pipes"]["file"] == "gis/a b.gpkg"


def test_a_needed_column_that_was_not_found_is_asked_for() -> None:
    guess = LayerGuess("valves", "v.shp", "", "likely", "", (), ("state",))
    lines = layer_section(guess)
    assert read(lines) == {"layers": {"valves": {"file": "v.shp", "columns": {}}}}
    assert any(line.startswith('#state = ""  # needed') and "open, shut" in line for line in lines)


def test_records_stand_in_their_own_section() -> None:
    columns = (ColumnGuess("date", "found", "sure", "usual"),)
    guess = LayerGuess("breaks", "b.csv", "", "sure", "", columns)
    assert read(layer_section(guess)) == {
        "records": {"breaks": {"file": "b.csv", "columns": {"date": "found"}}}
    }


def test_readings_name_layout_columns_clock_and_stamp_as_far_as_known() -> None:
    columns = (ColumnGuess("M 1", "Flow", "likely", ""), ColumnGuess("time", "time", "sure", ""))
    kind = ReadingsGuess(
        "r/*.csv", ("r/1.csv", "r/2.csv"), "wide", "sure", "why", columns, "UTC", "says so", "start"
    )
    assert read(readings_section(kind))["readings"] == [
        {
            "files": "r/*.csv",
            "layout": "wide",
            "timezone": "UTC",
            "stamp": "start",
            "columns": {"M 1": "Flow"},
        }
    ]


def test_an_unknown_clock_and_stamp_are_left_to_the_user() -> None:
    kind = ReadingsGuess("r.csv", ("r.csv",), "long", "sure", "why")
    lines = readings_section(kind)
    assert read(lines)["readings"] == [{"files": "r.csv", "layout": "long"}]
    assert any(line.startswith("#timezone = ") for line in lines)
    assert any(line.startswith('#stamp = "end"') for line in lines)


def test_unsure_readings_and_what_was_not_found_are_off() -> None:
    kind = ReadingsGuess("r.csv", ("r.csv",), "long", "unsure", "why")
    for lines in (readings_section(kind), no_layer(SENSORS, needed=False), no_readings()):
        assert lines
        assert read(lines) == {}


def test_a_sheet_and_the_row_of_the_heading_are_named() -> None:
    kind = ReadingsGuess(
        "r.xlsx", ("r.xlsx",), "long", "sure", "why", sheet="May 2025", heading_row=5
    )
    lines = readings_section(kind)
    assert read(lines)["readings"] == [{"files": "r.xlsx", "sheet": "May 2025", "layout": "long"}]
    assert "# The heading is in row 5; what is above it is left aside." in lines
    guess = LayerGuess("works", "book.xlsx", "", "sure", "", sheet="Jobs")
    assert read(layer_section(guess))["records"]["works"]["sheet"] == "Jobs"
    assert guess.place() == "book.xlsx, sheet Jobs"
