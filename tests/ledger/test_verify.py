"""Job closed, crew back, too early or not told: every way a repair may stand."""

from __future__ import annotations

from typing import Any

import pandas as pd
import pytest

from district.ledger.verify import telling, verifications, with_walks
from district.schema.ledger_tables import VERIFICATIONS
from district.schema.outputs import SEARCH_SETS, STRETCHES
from tests.ledger.made import check, checks, event, events, of, repair, repairs

OPEN = events(event())
MENDED = events(event(end="2025-05-14"))


def one(told: pd.DataFrame, known: pd.DataFrame, *done: dict[str, Any]) -> dict[str, Any]:
    table = verifications(repairs(*(done or (repair(),))), told, known)
    assert tuple(table.columns) == VERIFICATIONS.names()
    return {str(k): v for k, v in table.iloc[-1].items()}


def test_a_verified_repair_closes_its_job() -> None:
    row = one(checks(check()), MENDED)
    assert (row["outcome"], row["sought_ids"]) == ("closed", "")
    assert row["said"].endswith("fell. The job is closed.")
    assert (row["drop_l_s_low"], row["remaining_l_s_high"]) == (0.46, 0.03)


def test_where_some_of_the_flow_runs_on_a_crew_goes_back() -> None:
    row = one(checks(check("partly", drop=0.3)), OPEN)
    assert (row["outcome"], row["sought_ids"]) == ("crew_back", "E-A-1")


def test_too_early_says_how_many_nights_more() -> None:
    row = one(checks(check("too_early", nights_more_count=3.0)), OPEN)
    assert (row["outcome"], row["nights_more_count"]) == ("too_early", 3.0)


@pytest.mark.parametrize(
    ("later", "known", "said"),
    [
        ([check(day="2025-08-06")], MENDED, "the repair of 2025-08-06 took up what was left"),
        ([], MENDED, "what was left has ended since"),
    ],
)
def test_what_was_left_may_be_gone_by_now(
    later: list[dict[str, Any]], known: pd.DataFrame, said: str
) -> None:
    row = one(checks(check("partly", drop=0.3), *later), known)
    assert row["outcome"] == "closed"
    assert said in row["said"]


def test_a_crew_that_has_been_back_waits_for_the_nights_of_that_repair() -> None:
    again = check("too_early", day="2025-08-06", nights_more_count=4.0)
    row = one(checks(check("partly", drop=0.3), again), OPEN)
    assert (row["outcome"], row["nights_more_count"]) == ("too_early", 4.0)
    assert "a crew was back on 2025-08-06" in row["said"]
    other = check("verified", "P2", "2025-08-06", event_id="E-A-2")
    assert one(checks(check("partly", drop=0.3), other), OPEN)["outcome"] == "crew_back"


def test_a_repair_at_the_wrong_place_sends_the_crew_back_while_the_flow_runs() -> None:
    assert one(checks(check("not_seen", drop=0.01)), OPEN)["outcome"] == "crew_back"
    assert one(checks(check("not_seen", drop=0.01)), MENDED)["outcome"] == "closed"


def test_of_a_flow_that_was_never_heard_only_a_drop_tells() -> None:
    unheard = {"event_id": "", "before_l_s": float("nan")}
    assert one(checks(check(**unheard)), events())["outcome"] == "closed"
    row = one(checks(check("not_seen", drop=0.01, **unheard)), events())
    assert row["outcome"] == "not_told"
    # Half the width of the limits of the drop, 0.08 L/s, is what would have shown.
    assert "One of 0.04 L/s or more would have shown." in row["said"]


def test_without_sound_nights_or_without_a_metered_zone_nothing_is_told() -> None:
    silent = check("not_seen", nights_after_count=0.0)
    assert one(checks(silent), OPEN)["outcome"] == "not_told"
    row = one(checks(), OPEN, repair("nowhere"))
    assert (row["outcome"], row["verdict"], row["place_id"]) == ("not_told", "", "")
    assert "nowhere" in row["said"]


def test_another_leak_that_runs_sends_a_crew_to_that_one() -> None:
    two = events(event(end="2025-05-14"), event("E-A-2", "2025-05-16"))
    row = one(checks(check("another_leak")), two)
    assert (row["outcome"], row["sought_ids"]) == ("crew_back", "E-A-2")
    over = events(event(end="2025-05-14"), event("E-A-2", "2025-05-16", "2025-06-01"))
    assert one(checks(check("another_leak")), over)["outcome"] == "closed"


def test_of_two_zones_that_it_touches_the_one_with_a_drop_tells() -> None:
    told = checks(check(), check("not_seen", place_id="B", event_id="E-B-1", drop=0.0))
    known = events(event(end="2025-05-14"), event("E-B-1", place_id="B", cell_id="B"))
    row = one(told, known)
    assert (row["outcome"], row["place_id"]) == ("closed", "A")
    assert len(telling(told)) == 1


def test_a_building_is_told_by_its_own_meter() -> None:
    told = checks(check("partly", "B1", place_id="B1", event_id="E-B1-1", drop=0.2))
    known = events(event("E-B1-1", place_id="B1", place_kind="building", kind="building_flow"))
    row = one(told, known, repair("B1"))
    assert (row["outcome"], row["place_id"], row["cell_id"]) == ("crew_back", "B1", "A")


def test_since_leaves_out_the_earlier_ones_and_the_newest_comes_first() -> None:
    done = repairs(repair(day="2025-03-01"), repair(day="2025-05-14"), repair(day="2025-08-06"))
    table = verifications(done, checks(), events(), since=pd.Timestamp("2025-05-14"))
    assert list(table["repaired"].dt.month) == [8, 5]
    assert verifications(repairs(), checks(), events()).empty


def test_a_crew_goes_near_the_repair_first_and_then_the_walk() -> None:
    table = verifications(repairs(repair()), checks(check("partly")), OPEN)
    sets = of(SEARCH_SETS, {"sought_id": "E-A-1", "cell_id": "A", "held_share": 0.91})
    walk = [
        {"stretch_id": f"P{n}", "cell_id": "A", "rank": 10.0 - n, "length_m": 100.0,
         "sought_ids": "E-A-1, E-A-9"}
        for n in range(1, 8)
    ]  # fmt: skip
    walk[0] |= {"from_m": 20.0, "to_m": 60.0}
    walk.append({"stretch_id": "P9", "rank": 1.0, "length_m": 9.0, "sought_ids": "E-A-11"})
    (row,) = with_walks(table, sets, of(STRETCHES, *walk)).to_dict("records")
    assert row["go_to"] == (
        "Look again at and near P1; then walk 640 m that hold 91 % of the probability: "
        "P7, P6, P5, P4, P3 and 2 more stretches."
    )
    assert row["walk_km"] == pytest.approx(0.64)
    (row,) = with_walks(table, sets.iloc[:0], of(STRETCHES, *walk)).to_dict("records")
    assert (row["go_to"], pd.isna(row["walk_km"])) == ("Look again at and near P1.", True)
    closed = verifications(repairs(repair()), checks(check()), MENDED)
    assert list(with_walks(closed, sets, of(STRETCHES, *walk))["go_to"]) == [""]
