from __future__ import annotations

import tomllib
from datetime import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from district.intake.settings_lines import (
    district_lines,
    off,
    remark,
    section_lines,
    toml_key,
    toml_value,
    top_lines,
)
from district.settings import ExceptionalUse, Settings


def test_every_default_switched_on_is_the_default() -> None:
    """Uncommented, the lines are valid TOML and change nothing."""
    lines = [*top_lines(), *district_lines("District", timezone_remark="yours"), *section_lines()]
    text = "\n".join(line.removeprefix("#") for line in lines)
    settings = Settings(**tomllib.loads(text))
    assert settings.exceptional_use == (ExceptionalUse(zone_id="ZONE", flow_l_s=0.0),)
    assert [h.name for h in settings.holidays] == ["Christmas"]
    assert [e.places for e in settings.empty_hours] == [("BUILDING",)]
    examples = {"exceptional_use": (), "holidays": (), "empty_hours": ()}
    assert settings.model_copy(update=examples) == Settings()


def test_every_setting_has_its_line_and_its_meaning() -> None:
    lines = [*top_lines(), *district_lines("X", timezone_remark="yours"), *section_lines()]
    for name, part in Settings.model_fields.items():
        if name not in ("layers", "records", "readings"):
            assert any(f"[{name}" in line or line.startswith(f"#{name} = ") for line in lines), part
    keys = [line for line in lines if " = " in line]
    assert len(keys) > 40
    assert [line for line in keys if "  # " not in line] == []
    assert all(line.startswith("#") for line in keys if not line.startswith('name = "X"'))


def test_prose_stays_prose_when_lines_are_switched_off() -> None:
    assert off(["a = 1", "", "# why", "#b = 2"]) == ["#a = 1", "", "# why", "#b = 2"]


def test_a_remark_is_one_line() -> None:
    assert remark("a\nb\x00c") == "  # a b c"
    assert remark("") == ""


@given(st.text(st.characters(exclude_categories=["Cs"])))
def test_any_text_survives_as_value_and_key(text: str) -> None:
    assert tomllib.loads(f"a = {toml_value(text)}{remark(text)}") == {"a": text}
    if text:
        assert tomllib.loads(f"{toml_key(text)} = 1") == {text: 1}


@pytest.mark.parametrize("value", [True, False, 3, 0.25, 1e-9, time(2, 30)])
def test_other_values_survive(value: object) -> None:
    assert tomllib.loads(f"a = {toml_value(value)}") == {"a": value}
