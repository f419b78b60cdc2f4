from __future__ import annotations

import pandas as pd

from district.intake.columns import defaults_used, named, our_units, plain_numbers, tidy_choices
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


def test_a_named_column_that_is_not_there() -> None:
    frame = pd.DataFrame(columns=["begin"])
    _, (finding,) = named(frame, WORKS, {"start": "begins"}, source="w.csv")
    assert finding.sentence() == (
        "w.csv, column begins: got no such column (the closest is begin), expected the column "
        "named as start in district.toml. Correct it under [records.works.columns]."
    )


def test_lengths_are_scaled_and_texts_left_for_the_check() -> None:
    frame = pd.DataFrame({"diameter_mm": [4, "wide", None], "length_m": [1.0, 2.0, 3.0]})
    before = frame.copy()
    scaled = our_units(frame, {"diameter_mm": "in", "length_m": "km", "roughness": "m"})
    assert scaled["diameter_mm"].tolist()[:2] == [101.6, "wide"]
    assert scaled["length_m"].tolist() == [1000.0, 2000.0, 3000.0]
    pd.testing.assert_frame_equal(frame, before)


def test_choices_in_any_spelling() -> None:
    frame = pd.DataFrame({"material": ["Ductile Iron", "cast-iron", "PVC ", "Wood", None]})
    tidy = tidy_choices(frame, PIPES)
    assert tidy["material"].tolist()[:4] == ["ductile_iron", "cast_iron", "pvc", "Wood"]
    assert tidy["material"].isna().tolist()[4]


def test_defaults_are_counted_where_they_are_used() -> None:
    frame = pd.DataFrame({"material": ["pvc", None, ""], "diameter_mm": [100, 100, 100]})
    used = {d["column"]: (d["rows_count"], d["value"]) for d in defaults_used(frame, PIPES)}
    assert used == {"material": (2, "unknown"), "status": (3, "in_use")}
    tidy, _ = check(PIPES, frame, source="p")
    assert tidy["material"].tolist() == ["pvc", "unknown", "unknown"]


def test_texts_become_numbers_and_what_is_none_stays() -> None:
    frame = pd.DataFrame(
        {
            "pipe_id": ["1,5", "2", "3", "4"],
            "diameter_mm": ["4,921", "150", "wide", None],
            "installed_year": [1950, 1960, 1970, 1980],
        }
    )
    before = frame.copy()
    plain = plain_numbers(frame, PIPES)
    pd.testing.assert_frame_equal(frame, before)
    assert plain["diameter_mm"].tolist()[:3] == [4.921, 150.0, "wide"]
    assert plain["diameter_mm"].isna().tolist() == [False, False, False, True]
    assert plain["pipe_id"].tolist() == ["1,5", "2", "3", "4"]
    assert plain["installed_year"].tolist() == [1950, 1960, 1970, 1980]
