from __future__ import annotations

from dataclasses import replace
from typing import Any

import pandas as pd
import pytest

from district.cli import say_where
from district.results import Basis, Events, Location
from district.schema import empty
from district.schema.event_tables import EVENTS
from district.schema.located import EVIDENCE, LOGGER_CHECKS, NEXT_DEVICES
from district.schema.outputs import LIKELIHOOD, SEARCH_SETS, STRETCHES
from district.settings import Settings

NAMES = pd.Series({"A": "Upper"})
NOTHING = Location(
    empty(LIKELIHOOD), empty(STRETCHES), empty(SEARCH_SETS), Basis(limits=("No break fits.",))
)


def logger(sensor_id: str, **own: Any) -> dict[str, Any]:
    row = {
        "sensor_id": sensor_id, "cell_id": "A", "used": True, "said": "",
        "before_m": 0.8, "after_m": 0.1,
        "offset_m": 0.1, "offset_m_low": -0.5, "offset_m_high": 0.7,
    }  # fmt: skip
    return {**row, **own}


def checks(*rows: dict[str, Any]) -> pd.DataFrame:
    return pd.DataFrame([*rows], columns=[*LOGGER_CHECKS.names()])


def plain(lines: list[str]) -> list[str]:
    return [line.replace("\u00a0", " ") for line in lines if line]


def test_loggers_are_counted_and_those_left_out_stand_with_their_reason() -> None:
    said = say_where.loggers(
        checks(
            logger("PL-1"),
            logger("PL-2", offset_m=-1.9, offset_m_low=-2.5, offset_m_high=-1.2),
            logger("PL-3", used=False, said="It has too few hours."),
            logger("PL-4", used=False, said="It has too few hours."),
        )
    )
    assert plain(said) == [
        "The model of the pipes explains 2 of 4 pressure loggers, half of them to 0.1 m or better "
        "(0.8 m before it was fitted to them).",
        "- Not PL-3 and PL-4: It has too few hours.",
        "- PL-2 reads 1.9 m (1.2 to 2.5) too low, allowed for: have its level checked.",
    ]


def test_where_the_model_explains_none_the_walks_rest_on_the_rest() -> None:
    said = say_where.loggers(checks(logger("PL-1", used=False, said="It is flat.", offset_m=9.0)))
    assert said == [
        "No pressure logger counts: the model of the pipes does not explain the 1 pressure logger "
        "well enough. The walks rest on balance, leaks expected and what crews found.",
        "- Not PL-1: It is flat.",
    ]
    assert say_where.loggers(empty(LOGGER_CHECKS)) == []


def test_of_many_loggers_beside_their_level_the_worst_are_named() -> None:
    off = {"offset_m_low": 0.5, "offset_m_high": 9.0}
    rows = [logger(f"PL-{n}", offset_m=1.0 + n, **off) for n in range(5)]
    said = plain(say_where.loggers(checks(*rows)))[1:]
    assert [line.split()[1] for line in said] == ["PL-4", "PL-3", "PL-2", "2"]
    assert said[-1] == "- 2 more loggers, by less."


def found(count: int) -> Location:
    leak = {
        "leak": "", "cell_id": "A", "start": pd.Timestamp("2025-07-09"), "flow_l_s": 0.84,
        "flow_l_s_low": 0.61, "flow_l_s_high": 1.07, "held_share": 0.9, "pipes_count": 3,
        "set_km": 0.4, "mains_km": 1.6, "set_share": 0.25, "gap_m": 5.0,
    }  # fmt: skip
    sets = pd.DataFrame([{"sought_id": f"E{n}", **leak} for n in range(count)])
    told = {"sought_id": "E0", "cell_id": "A", "walk_m": 300.0, "moved_share": 0.4}
    evidence = pd.DataFrame(
        [
            {**told, "kind": "step_test", "said": "V3 took most.", "used": True},
            {**told, "kind": "sighting", "said": "Too early.", "used": False},
        ],
        columns=[*EVIDENCE.names()],
    )
    return replace(NOTHING, search_sets=sets[list(SEARCH_SETS.names())], evidence=evidence)


def test_locate_says_what_told_what_did_not_and_how_to_read_it(
    capsys: pytest.CaptureFixture[str],
) -> None:
    events = Events(empty(EVENTS), Basis())
    say_where.print_location(events, found(11), NAMES, Settings())
    out = capsys.readouterr().out
    assert "V3 took most." in out
    assert "... and 1 smaller leak: see --json." in out
    assert "hold 90 % of the probability" in out
    assert "Did not count:\n- Upper, water reported: Too early.\n" in out
    assert "western end" in out
    assert "for a licensed crew alone" in out
    say_where.print_location(events, NOTHING, NAMES, Settings())
    out = capsys.readouterr().out
    assert "What told" not in out
    assert "licensed crew" not in out
    assert "licensed people" in out
    assert "- No break fits." in out


def test_reach_says_for_which_leak_and_within_how_many_nights(
    capsys: pytest.CaptureFixture[str],
) -> None:
    device = {
        "rank": 1, "kind": "pressure_logger", "pipe_id": "P1", "pipe_2_id": "", "cell_id": "A",
        "gain_share": 0.2,
    }  # fmt: skip
    ends = ("", "_low", "_high")
    device |= {f"walk_{n}_m{end}": 100.0 for n in ("before", "after") for end in ends}
    ahead = pd.DataFrame([device], columns=[*NEXT_DEVICES.names()])
    say_where.print_reach(replace(NOTHING, next_devices=ahead), NAMES, Settings())
    out = " ".join(capsys.readouterr().out.split())
    assert "within 14 nights, at 0.5 false alarms a year" in out
    assert "no less than is listed at all (0.03 L/s)" in out
    assert "Each with those above it in place, for a leak of 1 L/s." in out
    assert "confined spaces" in out
    say_where.print_reach(NOTHING, NAMES, Settings())
    assert "Each with those above" not in capsys.readouterr().out
