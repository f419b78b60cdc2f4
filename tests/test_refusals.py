from __future__ import annotations

import math
from typing import Any

import pytest

from district.refusals import each_its_own, refusal


def told(kind: str, loc: tuple[object, ...], given: object, **more: Any) -> str:
    error = {"type": kind, "loc": loc, "input": given, "msg": "Input should be odd", **more}
    return refusal(error, file="district.toml").sentence()


@pytest.mark.parametrize(
    ("kind", "given", "more", "words"),
    [
        ("string_type", 5, {}, "got 5, expected text in quotation marks. Correct the value."),
        ("float_parsing", "2 m", {}, 'got "2 m", expected a number without unit or quotation'),
        ("int_from_float", 2.5, {}, "got 2.5, expected a whole number. Correct the value."),
        ("time_parsing", "25:00", {}, 'got "25:00", expected a time of the day such as 02:00:00.'),
        ("greater_than_equal", -1, {"ctx": {"ge": 0.0}}, "got -1, expected at least 0."),
        ("greater_than_equal", 0, {"ctx": {"ge": 1e-6}}, "got 0, expected more than 0."),
        ("less_than_equal", 2e9, {"ctx": {"le": 1e6}}, "expected at most 1\u00a0000\u00a0000."),
        ("less_than", 90, {"ctx": {"lt": 1}}, "got 90, expected less than 1."),
        ("less_than_equal", math.nan, {"ctx": {"le": 5}}, "got nan, expected a number without"),
        (
            "literal_error",
            "tall",
            {"msg": "Input should be 'long' or 'wide'"},
            'got "tall", expected "long" or "wide". Correct the value.',
        ),
        ("value_error", True, {"msg": "Value error, Words of ours"}, "got true, expected words of"),
        ("odd", [1, "a"], {}, 'got [1, "a"], expected odd. Correct the value.'),
        ("odd", {"a": {"b": "c"}}, {}, 'got a = {b = "c"}, expected odd.'),
        ("odd", "y" * 300, {}, f'got "{"y" * 76}..., expected odd.'),
    ],
    ids=lambda v: v if isinstance(v, str) else "",
)
def test_a_refused_value(kind: str, given: object, more: dict[str, Any], words: str) -> None:
    assert words in told(kind, ("night", "start"), given, **more)


def test_keys_that_lack_or_are_too_many() -> None:
    assert told("missing", ("exceptional_use", 0, "zone_id"), {}) == (
        "district.toml, exceptional_use.zone_id, entry 1: got no such key, expected a line "
        "zone_id = ..., as it has no default. Add the line."
    )
    assert told("extra_forbidden", ("night", "sart"), 1) == (
        "district.toml, night.sart: got a key that is not known here, expected only keys listed "
        "in README, section Settings. Check the spelling, or remove the line."
    )


def test_sections_written_as_something_else() -> None:
    assert told("tuple_type", ("readings",), {"files": "a.csv"}) == (
        'district.toml, readings: got files = "a.csv", expected [[readings]] in double brackets, '
        "as there may be several. Add the second brackets."
    )
    assert told("model_type", ("layers", "pipes"), "pipes.shp") == (
        'district.toml, layers.pipes: got "pipes.shp", expected a section [layers.pipes] with '
        "lines of key = value below it. Write it as a section of its own."
    )


def test_no_two_of_our_columns_from_one_of_theirs() -> None:
    apart = {"time": "when", "value": "flow"}
    assert each_its_own(apart) == apart
    with pytest.raises(ValueError, match='a column for each, not "when" for time and value'):
        each_its_own({"time": "when", "value": "when"})
