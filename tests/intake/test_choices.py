from __future__ import annotations

from typing import Any

import pandas as pd

from district.intake.choices import Choices, read_choices, unexplained
from district.schema.columns import Table, check
from district.schema.inputs import CONNECTIONS, PIPES, VALVES


def read(table: Table, meanings: dict[str, Any] | None = None, **columns: list[Any]) -> Choices:
    return read_choices(
        pd.DataFrame(columns),
        table,
        meanings or {},
        source="f.shp",
        section=f"layers.{table.name}",
        place=lambda row: f"pipe P{row}",
    )


def test_choices_in_any_spelling() -> None:
    said = ["Ductile Iron", "cast-iron", "PVC ", "uPVC", None, "n/a", "Concrete"]
    found = read(PIPES, material=said)
    assert found.frame["material"].tolist() == [
        "ductile_iron", "cast_iron", "pvc", "pvc", None, None, "concrete",
    ]  # fmt: skip
    assert found.told == {}


def test_codes_of_few_letters_are_told_once() -> None:
    found = read(PIPES, material=["DI", "CI", "DI", "Ductile Iron"])
    assert [f.sentence() for f in found.findings] == [
        'f.shp, column material: got "CI", read as cast_iron; "DI", read as ductile_iron. Where '
        "one means something else, say so under [layers.pipes.values.material] in district.toml."
    ]


def test_the_users_meanings_come_first_whatever_the_capitals_and_blanks() -> None:
    meanings = {"material": {"12": "steel", " ci ": "concrete", "big  blue": "pvc"}}
    found = read(PIPES, meanings, material=[12, 12.0, "12", "CI", "Big Blue", None])
    assert found.frame["material"].tolist() == ["steel"] * 3 + ["concrete", "pvc", None]
    assert found.findings == ()


def test_a_text_nothing_explains_is_told_once_with_its_places() -> None:
    before = pd.DataFrame({"material": ["wood"] * 7 + ["clay", "pvc"]})
    found = read(PIPES, material=before["material"].tolist())
    assert found.frame["material"].tolist() == [None] * 8 + ["pvc"]
    assert [f.severity for f in found.findings] == ["warning", "warning"]
    assert found.findings[0].sentence() == (
        'f.shp, pipes P0, P1, P2 and 4 more, column material: got "wood", expected one of '
        "cast_iron, ductile_iron, steel, asbestos_cement, pvc, polyethylene, concrete, grp, "
        "copper, lead, unknown. Correct it, or say under [layers.pipes.values.material] in "
        'district.toml what it means, as in "wood" = "unknown".'
    )
    assert found.told == {"material": set(range(8))}


def test_too_many_strange_texts_are_one_finding() -> None:
    found = read(PIPES, material=[f"text {n}" for n in range(40)])
    (told,) = found.findings
    assert told.got == ('40 texts that mean none of these, such as "text 0", "text 1", "text 2"')


def test_what_must_be_known_is_an_error_told_once() -> None:
    found = read(VALVES, valve_id=["a", "b", "c"], state=["half", "half", "n/a"])
    assert [(f.severity, f.got) for f in found.findings] == [
        ("error", '"half"'),
        ("error", '"n/a"'),
    ]
    frame = found.frame.assign(geometry=None)
    _, again = check(VALVES, frame, source="f.shp", told=found.told)
    assert [f.column for f in again if f.column != "geometry"] == []


def test_yes_and_no() -> None:
    said = ["Yes", "N", True, 0, "ja", 1.0, None, "unknown", "perhaps"]
    found = read(VALVES, state=["open"] * 9, operable=said)
    assert found.frame["operable"].tolist() == [
        "true", "false", "true", "false", "true", "true", None, None, None,
    ]  # fmt: skip
    (told,) = found.findings
    assert told.got == '"perhaps"'
    seized = read(VALVES, {"operable": {"seized": "false"}}, operable=["Seized"])
    assert seized.frame["operable"].tolist() == ["false"]


def test_free_texts_are_mapped_where_the_user_says_so_and_else_kept() -> None:
    found = read(CONNECTIONS, {"use_class": {"R": "household"}}, use_class=["r", "Hotel", None])
    assert found.frame["use_class"].tolist() == ["household", "Hotel", None]
    assert found.findings == ()


def test_what_is_unexplained_most_frequent_first() -> None:
    values = pd.Series(["b", "CI", "a", "b", None, "n/a"])
    assert unexplained(PIPES, "material", values) == {"b": 2, "a": 1}
    assert unexplained(PIPES, "pipe_id", values) == {}
