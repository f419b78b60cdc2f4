from __future__ import annotations

import datetime
from typing import Any

import numpy as np
import pytest

from district.intake.table_shape import Shape, find_shape, kind_of


def rows(text: str) -> list[list[Any]]:
    return [[cell or None for cell in line.split(";")] for line in text.split("\n")]


DATA = "2025-01-01 00:00;1.5\n2025-01-01 01:00;err\n2025-01-01 02:00;2"


@pytest.mark.parametrize(
    ("text", "heading_row", "data_row"),
    [
        (f"time;M1\n{DATA}", 1, 2),
        (f"anything;else\n{DATA}", 1, 2),
        (f"time;M1\nsoon;err\n{DATA}", 1, 2),
        (f"time;101\n{DATA}", 1, 2),
        (f"Logger 7\n\ntime;M1\n{DATA}", 3, 4),
        (f"Site;Cellar\nSerial;12345\nFrom;2025-01-01 00:00\nWann;Keller\n{DATA}", 4, 5),
        (f"Serial;12345\nTime;101\n{DATA}", 2, 3),
        (f"time;M1\n;m3/h\n{DATA}", 1, 3),
        (f"Title\ntime;M1\n\ndd/mm/yyyy hh:mm;-\n{DATA}\nEnd of data", 2, 5),
        (f"\n\ntime;M1\n{DATA}", 3, 4),
        (DATA, 1, 2),
        ("time;M1", 1, 2),
        ("", 1, 2),
        ("device_id;time;value\nM1;soon;1", 1, 2),
        ("From;2025-01-01 00:00\ndevice_id;time;value\nM1;2025-01-01;3\nM2;2025-01-01;3", 2, 3),
        ("time;W1\n2025-01-01;dry", 1, 2),
        ("Floors\ntime;W1\n2025-01-01;dry\n2025-01-02;wet", 2, 3),
        ("start;end;kind;place_id;note\n2025-03-11 10:00;;flushing;A;dead end", 1, 2),
        ("Jobs of 2025\nstart;kind;place_id\n2025-03-11;flushing;A\nTotal;1;", 2, 3),
    ],
)
def test_where_the_table_stands(text: str, heading_row: int, data_row: int) -> None:
    shape = find_shape(rows(text))
    assert (shape.heading_row, shape.data_row) == (heading_row, data_row)
    assert shape.plain() == ((heading_row, data_row) == (1, 2))


def test_what_was_found() -> None:
    text = f"Cellar;7\n\nTime;Flow (l/s);Level;Inlet (m3/h)\n;;bar;m3/d\n{DATA}"
    assert find_shape(rows(text)) == Shape(
        heading_row=3,
        data_row=5,
        units={"Flow (l/s)": "l/s", "Level": "bar", "Inlet (m3/h)": "m3/d"},
        above=("Cellar 7",),
        width=4,
        times=True,
        found=True,
    )


def test_no_values_and_no_times() -> None:
    assert not find_shape(rows("time;M1")).found
    assert not find_shape(rows("meter_id;litres\nM1;10\nM2;10")).times


def test_cells_of_a_spreadsheet() -> None:
    heading = ["Date", "Time", "Reading"]
    cells = [datetime.datetime(2025, 1, 1), datetime.time(8, 15), 1.5]
    shape = find_shape([["Book of readings", None, None], heading, cells, cells])
    assert (shape.heading_row, shape.times) == (2, True)
    kinds = [kind_of(c) for c in (None, np.nan, True, 3, np.float64(2), *cells[:2], "", "1'234.5")]
    assert kinds == ["", "", "number", "number", "number", "time", "time", "", "number"]
