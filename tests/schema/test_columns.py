from __future__ import annotations

import geopandas as gpd
import pandas as pd
import pytest
from shapely.geometry import Point

from district.schema import Column, Table, check, empty
from district.schema.columns import estimated

TABLE = Table(
    "things",
    "for the test",
    (
        Column("thing_id", "text", "its id", required=True),
        Column("width_m", "real", "how wide", default=2.0, low=1, high=9),
        Column("count", "whole", "how many"),
        Column("kind", "text", "what", choices=("a", "b")),
        Column("live", "flag", "whether it is", default=True),
        Column("day", "date", "when"),
        Column("at", "time", "instant"),
    ),
    key=("thing_id",),
)


def said(frame: pd.DataFrame) -> list[str]:
    return [f.sentence() for f in check(TABLE, frame, source="t.csv")[1]]


def test_a_good_table_is_brought_to_its_kinds() -> None:
    frame = pd.DataFrame(
        {
            "thing_id": [12.0, "b"],
            "width_m": ["3.5", None],
            "live": ["no", ""],
            "day": ["2025-03-30", None],
            "at": ["2025-03-30T01:00:00+01:00", None],
            "more": [1, 2],
        }
    )
    tidy, findings = check(TABLE, frame, source="t.csv")
    assert findings == ()
    assert list(tidy.columns) == list(TABLE.names())
    assert tidy["thing_id"].tolist() == ["12", "b"]
    assert tidy["width_m"].tolist() == [3.5, 2.0]
    assert tidy["live"].tolist() == [False, True]
    assert tidy["at"][0] == pd.Timestamp("2025-03-30T00:00:00Z")
    assert "count" not in frame.columns


BROKEN = [
    ({"thing": ["a"]}, "t.csv, column thing_id: got no such column (the closest is thing), "
     "expected text: its id. Add the column, or name yours under [layers.things.columns] in "
     "district.toml."),
    ({"thing_id": ["a"], "width_m": ["wide"]}, "t.csv, row 0, column width_m: got \"wide\", "
     "expected a number in m from 1 to 9. Correct the value or leave it empty to use the "
     "default."),
    ({"thing_id": ["a"], "width_m": [12]}, "t.csv, row 0, column width_m: got 12, expected a "
     "number in m from 1 to 9. Correct the value or leave it empty to use the default."),
    ({"thing_id": ["a"], "count": [1.5]}, "t.csv, row 0, column count: got 1.5, expected a whole "
     "number. Correct the value or leave it empty to use the default."),
    ({"thing_id": ["a"], "kind": ["c"]}, 't.csv, row 0, column kind: got "c", expected one of '
     "a, b. Correct the value or leave it empty to use the default."),
    ({"thing_id": [""]}, "t.csv, row 0, column thing_id: got nothing, expected text. Correct the "
     "value."),
    ({"thing_id": ["a"], "live": ["perhaps"]}, 't.csv, row 0, column live: got "perhaps", '
     "expected true or false. Correct the value or leave it empty to use the default."),
    ({"thing_id": ["a"], "day": ["30 February"]}, 't.csv, row 0, column day: got "30 February", '
     "expected a date as YYYY-MM-DD. Correct the value or leave it empty to use the default."),
    ({"thing_id": ["a"], "day": ["11/12/2025"]},
     't.csv, row 0, column day: got "11/12/2025", expected a date as YYYY-MM-DD. Write the year '
     "first: which is the day and which the month cannot be told here."),
    ({"thing_id": ["a", "a"]}, "t.csv, row 1, column thing_id: got a a second time, expected each "
     "only once. Give each its own id, or remove the copy."),
]  # fmt: skip


@pytest.mark.parametrize(("columns", "sentence"), BROKEN)
def test_each_defect_has_its_sentence(columns: dict[str, list[object]], sentence: str) -> None:
    assert said(pd.DataFrame(columns)) == [sentence]


def test_every_defect_is_told_in_one_pass() -> None:
    frame = pd.DataFrame({"thing_id": ["a", None], "width_m": ["x", 99], "kind": ["z", "a"]})
    assert len(said(frame)) == 4


def test_geometry_stays_a_geodataframe() -> None:
    table = Table(
        "spots", "", (Column("geometry", "geometry", "where", required=True),), geometry="Point"
    )
    frame = gpd.GeoDataFrame(geometry=[Point(1, 2)], crs=4326)
    tidy, _ = check(table, frame, source="s")
    assert isinstance(tidy, gpd.GeoDataFrame)
    assert tidy.crs == frame.crs


def test_an_empty_table_passes_its_own_check() -> None:
    tidy, findings = check(TABLE, empty(TABLE), source="t")
    assert findings == ()
    assert len(tidy) == 0


def test_an_unknown_column_name_lists_the_known_ones() -> None:
    with pytest.raises(KeyError, match="it has thing_id, width_m"):
        TABLE["width"]


def test_an_estimate_is_three_columns() -> None:
    names = [column.name for column in estimated("flow_l_s", "flow")]
    assert names == ["flow_l_s", "flow_l_s_low", "flow_l_s_high"]
