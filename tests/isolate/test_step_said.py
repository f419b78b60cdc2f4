"""Tests of `district.isolate.step_said`."""

from __future__ import annotations

import pandas as pd

from district.isolate.step_said import action_sentence, sentences

ROW = {"action": "reopen", "local_time": "03:20", "valve_id": "V9", "beside": "", "section_id": "1"}
SECTION = {
    "section_id": "1", "valve_id": "V9", "length_m": 420.0, "properties_count": 31, "dry_h": 0.5,
    "probability_share": 0.4, "shows": False, "wrong_share": 0.004,
    **{f"drop_{w}_l_s{e}": v for w, x in (("with", 0.6), ("without", 0.1))
       for e, v in (("", x), ("_low", x - 0.3), ("_high", x + 0.3))},
}  # fmt: skip


def said_of(sections: pd.DataFrame, **changed: object) -> tuple[str, ...]:
    plan = pd.DataFrame([ROW | {"action": "prepare", "valve_id": "V4"}, ROW | {"action": "step"}])
    given = {
        "walk_before_m": (900.0, 20.0, 1800.0),
        "walk_after_m": (300.0, 10.0, 700.0),
        "flow": (0.5, 0.4, 0.6),
        "proven": True,
        "kept": ["Kept fed: a clinic."],
        "reading": ["Inflow: by M1."],
        "doubtful": ["H7"],
    }
    return sentences("Kiln Lane", plan=plan, sections=sections, **(given | changed))  # type: ignore[arg-type]


def test_each_action_says_when_what_and_how() -> None:
    assert action_sentence(ROW) == "03:20 open V9 slowly with the same turns (section 1)."
    loop = ROW | {"section_id": "", "beside": "V10"}
    assert action_sentence(loop) == (
        "03:20 open V9 (or V10 beside it) slowly with the same turns (shut in preparation)."
    )
    assert "nobody is dry" in action_sentence(ROW | {"action": "prepare"})
    assert "before any section is shut" in action_sentence(ROW | {"action": "read"})


def test_the_plan_says_what_first_what_it_shows_and_what_it_cannot() -> None:
    rest = SECTION | {"section_id": "0", "valve_id": "", "shows": True, "dry_h": float("nan")}
    said = said_of(pd.DataFrame([SECTION, rest]))
    assert said[0].startswith("1 step in zone Kiln Lane: a leak of 0.50")
    assert said[1].startswith("First shut V4")
    assert "leaving each shut: V9." in said[2]
    assert "may not tell" in said[3]
    assert "less than 1 % of cases" in said[3]
    assert said[4].startswith("What stays open")
    assert "may not tell" not in said[4]
    assert any("H7 would hang on a check" in s for s in said)
    assert said[-1].startswith("No other choice")
    assert "best of many" in said_of(pd.DataFrame([SECTION, rest]), proven=False)[-1]


def test_a_size_that_was_set_has_no_limits() -> None:
    said = said_of(pd.DataFrame([SECTION]), flow=(1.0, 1.0, 1.0))
    assert "(1" not in said[0].split(" is then")[0]


def test_where_no_step_helps_it_says_why() -> None:
    rest = pd.DataFrame([SECTION | {"section_id": "0"}])
    said = said_of(rest)
    assert said[0].startswith("No step is of use in zone Kiln Lane")
    assert said[1:] == ("Kept fed: a clinic.",)
