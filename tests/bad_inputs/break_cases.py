"""Breaks and lives of pipes that cannot be, each with the sentence for it."""

from __future__ import annotations

from tests.bad_inputs.breakers import both, replaced, text, value
from tests.bad_inputs.cases import Case

_ROW = "2019-02-03,P3,main"
_LIFE = (
    "expected a date while it lay there, by {} of pipes.geojson. Correct the date, the pipe_id "
    "({}) or the year of the pipe; until then this break is not counted."
)


def _placed(*rows: str) -> str:
    return "date,longitude_deg,latitude_deg\n" + "\n".join(rows) + "\n"


CASES: tuple[Case, ...] = (
    Case(
        "break without a date",
        replaced("breaks.csv", _ROW, ",P3,main"),
        "breaks.csv, row 2, column date: got nothing, expected a date as YYYY-MM-DD. Fill it "
        "in where it is known; until then this break counts for no pipe.",
    ),
    Case(
        "break told twice",
        replaced("breaks.csv", _ROW, f"{_ROW}\n{_ROW}"),
        "breaks.csv, row of 2019-02-03 on P3: got the same main break a second time, expected "
        "each break once. Remove the copy; until then it counts once.",
    ),
    Case(
        "break before the pipe was laid",
        replaced("breaks.csv", "2019", "1983"),
        "breaks.csv, row of 1983-02-03 on P3, column date: got 1983, before the pipe was laid in "
        "1984, " + _LIFE.format("installed_year", "ids may have been used again"),
    ),
    Case(
        "break after the pipe was taken out of use",
        both(value("pipes", 2, "status", "abandoned"), value("pipes", 2, "removed_year", 2011)),
        "breaks.csv, row of 2019-02-03 on P3, column date: got 2019, after the pipe was taken out "
        "of use in 2011, " + _LIFE.format("removed_year", "another pipe may lie there now"),
    ),
    Case(
        "break of a year to come",
        replaced("breaks.csv", "2019", "2091"),
        "breaks.csv, row of 2091-02-03, column date: got 2091-02-03, and the last reading is of "
        "2025-03-13, expected a date no more than a month after it. Correct the year, or add the "
        "readings up to then.",
    ),
    Case(
        "break by a place beside the pipes",
        text("breaks.csv", _placed("2019-02-03,7.0015,47.0005")),
        "breaks.csv, row of 2019-02-03, column longitude_deg, latitude_deg: got a place 38 m from "
        "the nearest pipe, P3, expected a place within 30 m of a pipe that lay there then. Correct "
        "the place or give a pipe_id; until then this break counts for no pipe.",
    ),
    Case(
        "half a place of a break",
        text("breaks.csv", _placed("2019-02-03,7.0015,")),
        "breaks.csv, row 2, column pipe_id: got nothing, expected text, or longitude_deg and "
        "latitude_deg instead. Fill it in where it is known; until then this break counts for "
        "no pipe.",
    ),
    Case(
        "breaks with neither pipes nor places",
        text("breaks.csv", "date,kind\n2019-02-03,main\n"),
        "breaks.csv, column pipe_id: got no such column, expected text: pipe it was on, or "
        "longitude_deg and latitude_deg instead. Add the column, or name yours under "
        "[records.breaks.columns] in district.toml.",
    ),
    Case(
        "latitude beyond the pole",
        text("breaks.csv", _placed("2019-02-03,7.0015,470.0")),
        "breaks.csv, row 2, column latitude_deg: got 470, expected a number in ° from -90 to 90. "
        "Correct the value or leave it empty to use the default.",
    ),
    Case(
        "year 182",
        value("pipes", 3, "installed_year", 182),
        "pipes.geojson, pipe P4, column installed_year: got 182, expected a whole number from "
        "1800 to 2100. Correct the value or leave it empty to use the default.",
    ),
    Case(
        "taken out in the year 9120",
        value("pipes", 3, "removed_year", 9120),
        "pipes.geojson, pipe P4, column removed_year: got 9120, expected a whole number from "
        "1800 to 2100. Correct the value or leave it empty to use the default.",
    ),
    Case(
        "length below zero",
        value("pipes", 3, "length_m", -76),
        "pipes.geojson, pipe P4, column length_m: got -76, expected a number in m of at least "
        "0.01. Correct the value or leave it empty to use the default.",
    ),
    Case(
        "taken out before it was laid",
        value("pipes", 3, "removed_year", 1950),
        "pipes.geojson, pipe P4, column removed_year: got 1950, before it was laid in 1992, "
        "expected a year not before installed_year. Correct one of the two; until then it tells "
        "nothing of how pipes break.",
    ),
    Case(
        "in use and taken out",
        value("pipes", 3, "removed_year", 2015),
        "pipes.geojson, pipe P4, column removed_year: got a year, though status is in_use, "
        "expected nothing for a pipe in use. Empty it, or correct status; until then it counts as "
        "in use.",
    ),
    Case(
        "out of use since nobody knows when",
        value("pipes", 5, "status", "abandoned"),
        "pipes.geojson, pipe P6, column removed_year: got nothing, and the status is abandoned, "
        "expected the year it was taken out of use. Fill it in where it is known: without it the "
        "pipe cannot tell how often pipes like it break.",
    ),
)
