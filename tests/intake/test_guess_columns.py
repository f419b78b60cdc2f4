from __future__ import annotations

import pandas as pd

from district.intake.guess_columns import as_texts, guess_columns, is_key, share_among
from district.intake.proposal import ColumnGuess
from district.schema.inputs import CONNECTIONS, METERS, PIPES, SENSORS, VALVES, ZONES


def by_name(guesses: tuple[ColumnGuess, ...]) -> dict[str, ColumnGuess]:
    return {g.ours: g for g in guesses}


def test_trade_abbreviations_are_understood() -> None:
    frame = pd.DataFrame(
        {
            "OBJECTID": [1, 2, 3],
            "ASSET_ID": ["a", "b", "c"],
            "DIA": [4, 6, 8],
            "MATL": ["PVC", "Steel", "pvc"],
            "YR_LAID": [1970, 1982, 2001],
            "COLOUR": ["red", "blue", "red"],
        }
    )
    before = frame.copy()
    found = by_name(guess_columns(PIPES, frame))
    assert {n: g.theirs for n, g in found.items()} == {
        "pipe_id": "ASSET_ID",
        "material": "MATL",
        "diameter_mm": "DIA",
        "installed_year": "YR_LAID",
    }
    assert found["diameter_mm"].unit == "in"
    assert found["diameter_mm"].sureness == "likely"
    assert found["pipe_id"].sureness == "likely"
    assert found["material"].sureness == "sure"
    pd.testing.assert_frame_equal(frame, before)


def test_values_that_cannot_be_used_make_an_optional_column_unsure() -> None:
    frame = pd.DataFrame({"PIPE_NO": ["a", "b"], "MATL": ["7", "9"], "INSTALLED": ["x", "y"]})
    found = by_name(guess_columns(PIPES, frame))
    assert found["material"].sureness == "unsure"
    assert found["material"].remark.startswith("its values (7, 9) do not fit, expected one of")


def test_a_needed_column_is_named_though_its_values_do_not_fit() -> None:
    frame = pd.DataFrame({"VALVENO": ["a", "b"], "NORMAL_POS": ["1", "2"]})
    state = by_name(guess_columns(VALVES, frame))["state"]
    assert state.sureness != "unsure"
    assert state.remark


def test_codes_of_the_trade_fit_and_others_are_named() -> None:
    frame = pd.DataFrame({"PIPE_NO": list("abcd"), "MATL": ["CI", "DI", "PB", "n/a"]})
    found = by_name(guess_columns(PIPES, frame))["material"]
    assert (found.sureness, found.remark, found.unread) == ("sure", "", ("PB",))


def test_values_that_name_their_unit_need_none() -> None:
    frame = pd.DataFrame({"PIPE_NO": list("abc"), "DIA": ['6"', '8"', '4"']})
    bore = by_name(guess_columns(PIPES, frame))["diameter_mm"]
    assert (bore.unit, bore.sureness, bore.remark) == ("", "sure", "")
    assert bore.why.endswith("its values name their unit")


def test_of_two_columns_the_values_choose() -> None:
    frame = pd.DataFrame(
        {
            "MTR_ID": ["a", "b"],
            "TYPE": ["inlet", "customer"],
            "KIND": ["register", "pulse"],
        }
    )
    found = by_name(guess_columns(METERS, frame))
    assert (found["role"].theirs, found["kind"].theirs) == ("TYPE", "KIND")


def test_ids_are_found_by_what_they_refer_to() -> None:
    frame = pd.DataFrame({"A": ["m1", "m2"], "B": ["z1", "z1"], "use": ["inlet", "inlet"]})
    ids = {"meter_id": frozenset({"m1", "m2", "x"}), "downstream": frozenset({"z1", "z2"})}
    found = by_name(guess_columns(METERS, frame, ids=ids))
    assert (found["meter_id"].theirs, found["downstream"].theirs) == ("A", "B")
    assert found["meter_id"].sureness == found["downstream"].sureness == "sure"


def test_a_reference_to_nothing_known_is_unsure() -> None:
    frame = pd.DataFrame({"CONN_ID": ["a", "b"], "METER": ["q1", "q2"]})
    found = by_name(guess_columns(CONNECTIONS, frame, ids={"meter_id": frozenset({"m1"})}))
    assert found["meter_id"].sureness == "unsure"


def test_a_zone_is_not_its_own_parent() -> None:
    frame = pd.DataFrame({"DMA": ["a", "b"]})
    found = by_name(guess_columns(ZONES, frame, ids={"parent_id": frozenset({"a", "b"})}))
    assert set(found) == {"zone_id"}


def test_an_id_that_no_name_tells_is_unsure() -> None:
    found = by_name(guess_columns(PIPES, pd.DataFrame({"Xyz": ["a", "b"], "w": [1.5, 2.5]})))
    assert (found["pipe_id"].theirs, found["pipe_id"].sureness) == ("Xyz", "unsure")


def test_ids_as_texts() -> None:
    values = pd.Series([12.0, None, " a ", ""])
    assert list(as_texts(values)) == ["12", "a"]
    assert share_among(values, frozenset({"12"})) == 0.5
    assert share_among(values, frozenset()) == 0.0
    assert not is_key(values)
    assert is_key(pd.Series(["a", "b"]))
    assert not is_key(pd.Series(["a", "a"]))


def test_ids_of_which_the_first_rows_of_readings_show_some() -> None:
    frame = pd.DataFrame({"SENSORID": [f"P{n}" for n in range(9)], "TYPE": ["pressure"] * 9})
    (key, *_) = guess_columns(SENSORS, frame, ids={"sensor_id": frozenset({"P3"})})
    assert key.sureness == "sure"
    assert "some of its values are ids the readings carry" in key.why
    (key, *_) = guess_columns(SENSORS, frame, ids={"sensor_id": frozenset({"X3"})})
    assert key.sureness == "unsure"
