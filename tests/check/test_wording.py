from __future__ import annotations

from dataclasses import replace

import pandas as pd

from district.check.wording import EACH, file_of, filled, ids_of, one_of, unknown_values, unread
from district.errors import Finding
from district.results import Inputs


def test_empty_values_are_none_blank_or_missing() -> None:
    values = pd.Series(["a", None, " ", float("nan"), " b "], index=[3, 4, 5, 6, 7], dtype=object)
    assert filled(values).to_dict() == {3: "a", 7: "b"}


def test_expected_lists_few_and_gives_the_closest_of_many() -> None:
    assert one_of([], "Z1", what="a zone_id") == "a zone_id, which holds none"
    assert one_of(["Z1"], "Z9", what="a zone_id") == "a zone_id: Z1"
    assert one_of(["Z2", "Z1", "Z3"], "Z9", what="a zone_id") == "a zone_id: Z1, Z2 or Z3"
    many = [f"ZONE{n}" for n in range(20)]
    assert one_of(many, "ZONE-12", what="a zone_id") == "a zone_id (the closest is ZONE12)"
    assert one_of(many, "?", what="a zone_id") == "a zone_id"


def test_many_unknown_values_end_in_one_sentence() -> None:
    names = pd.Series([f"C{n}" for n in range(100)])
    values = pd.Series([f"K{n}" for n in range(100)], name="meter_id")
    found = unknown_values(
        values,
        names,
        known=["M1"],
        severity="warning",
        source="connections.geojson",
        noun="connection",
        what="a meter_id",
        remedy="Correct it",
    )
    assert len(found) == EACH + 1
    assert found[0].sentence() == (
        'connections.geojson, connection C0, column meter_id: got "K0", '
        "expected a meter_id: M1. Correct it."
    )
    assert found[-1].sentence() == (
        "connections.geojson, connections C12, C13, C14 and 85 more, column meter_id: "
        "got 88 more values that are not known, expected a meter_id. Correct it."
    )


def test_file_of_a_table(inputs: Inputs) -> None:
    assert file_of(inputs, "pipes") == "pipes.geojson"
    assert file_of(inputs, "readings") == "readings"


def test_a_layer_that_could_not_be_read_has_no_ids_to_hold_others_against(inputs: Inputs) -> None:
    assert ids_of(inputs, "zones") == {"MILL", "QUAY"}
    told = Finding("error", "zones.geojson", got="a file that cannot be read")
    bare = replace(inputs, zones=inputs.zones.iloc[:0])
    assert ids_of(bare, "zones") == set(), "an empty layer that was read"
    assert ids_of(replace(bare, findings=(told,)), "zones") is None
    assert unread(replace(bare, findings=(told,)), "zones")
    assert not unread(replace(inputs, findings=(told,)), "zones")
    values, names = pd.Series(["Z9"], name="parent_id"), pd.Series(["MILL"])
    assert (
        unknown_values(
            values, names, known=None, severity="error", source="z", noun="zone", what="", remedy=""
        )
        == []
    )
