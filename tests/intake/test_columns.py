from __future__ import annotations

import pandas as pd

from district.intake.columns import defaults_used, named
from district.schema.columns import check
from district.schema.inputs import CONNECTIONS, PIPES, WORKS


def test_names_by_settings_capitals_and_shapefile_cut() -> None:
    frame = pd.DataFrame(columns=["MAT", "Pipe_ID", "diameter_m", "other"])
    tidy, findings = named(frame, PIPES, {"material": "MAT"}, source="p.shp", short=True)
    assert set(tidy.columns) == {"material", "pipe_id", "diameter_mm"}
    assert findings == []


def test_names_are_not_cut_elsewhere() -> None:
    frame = pd.DataFrame(columns=["connection"])
    tidy, _ = named(frame, CONNECTIONS, {}, source="c.gpkg")
    assert list(tidy.columns) == []


def test_a_named_column_wins_over_one_of_our_name() -> None:
    frame = pd.DataFrame({"material": ["old"], "mat2": ["pvc"]})
    tidy, _ = named(frame, PIPES, {"material": "mat2"}, source="p.gpkg")
    assert tidy["material"].tolist() == ["pvc"]


def test_capitals_of_a_named_column_do_not_matter_unless_they_tell_two_apart() -> None:
    frame = pd.DataFrame({"mat": ["pvc"], "MAT": ["steel"], "dia": [100]})
    tidy, findings = named(frame, PIPES, {"material": "MAT", "diameter_mm": "DIA"}, source="p")
    assert findings == []
    assert tidy[["material", "diameter_mm"]].to_numpy().tolist() == [["steel", 100]]


def test_a_named_column_that_is_not_there() -> None:
    frame = pd.DataFrame(columns=["begin"])
    _, (finding,) = named(frame, WORKS, {"start": "begins"}, source="w.csv")
    assert finding.sentence() == (
        "w.csv, column begins: got no such column (the closest is begin), expected the column "
        "named as start in district.toml. Correct it under [records.works.columns]."
    )


def test_defaults_are_counted_where_they_are_used() -> None:
    frame = pd.DataFrame({"material": ["pvc", None, ""], "diameter_mm": [100, 100, 100]})
    used = {d["column"]: (d["rows_count"], d["value"]) for d in defaults_used(frame, PIPES)}
    assert used == {"material": (2, "unknown"), "status": (3, "in_use")}
    tidy, _ = check(PIPES, frame, source="p")
    assert tidy["material"].tolist() == ["pvc", "unknown", "unknown"]
