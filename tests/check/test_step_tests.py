from __future__ import annotations

from collections.abc import Callable

from district.check.step_tests import check_step_tests
from district.results import Inputs
from district.settings import Settings

Change = Callable[..., Inputs]
Says = Callable[..., list[str]]


def steps(*given: tuple[str, str | None, float]) -> list[dict[str, object]]:
    return [
        {"test_id": "T1", "time": f"2025-03-04T{at}Z", "valve_id": valve, "flow_l_s": flow}
        for at, valve, flow in given
    ]


def test_flows_that_fall_give_no_finding(inputs: Inputs, settings: Settings, add: Change) -> None:
    sound = steps(("01:00", None, 2.0), ("01:15", "V2", 1.2), ("01:30", "V1", 1.22))
    assert check_step_tests(add(inputs, "step_tests", *sound), settings=settings) == []


def test_valves_shut_in_preparation_come_before_the_start(
    inputs: Inputs, settings: Settings, add: Change
) -> None:
    sound = steps(("00:50", "V2", 2.0), ("01:00", None, 2.0), ("01:15", "V1", 1.2))
    assert check_step_tests(add(inputs, "step_tests", *sound), settings=settings) == []


def test_a_flow_that_rises_and_a_valve_shut_twice(
    inputs: Inputs, settings: Settings, add: Change, says: Says
) -> None:
    odd = steps(
        ("01:00", None, 2.0), ("01:15", "V2", 2.4), ("01:30", "V2", 1.0), ("01:30", None, 1.0)
    )
    assert says(check_step_tests(add(inputs, "step_tests", *odd), settings=settings)) == [
        "warning: step_tests.csv, test T1, row of 2025-03-04 01:15, column flow_l_s: got 2.4 L/s "
        "after 2 L/s, though V2 was shut, expected no more than before, once a section is shut. "
        "Check the flow, the order of times, and that the valve closes.",
        "warning: step_tests.csv, test T1, row of 2025-03-04 01:30, column valve_id: got V2 a "
        "second time, expected each valve once in a test, as it is left shut. Correct the valve, "
        "or give the second round a test_id of its own.",
        "warning: step_tests.csv, test T1, row of 2025-03-04 01:30, column time: got the same time "
        "as another step, expected one flow at a time. Correct one of the two times.",
    ]


def test_no_start_and_an_unknown_valve(
    inputs: Inputs, settings: Settings, add: Change, says: Says
) -> None:
    odd = steps(("01:00", "V2", 2.0), ("01:15", "V9", 1.0))
    assert says(check_step_tests(add(inputs, "step_tests", *odd), settings=settings)) == [
        'warning: step_tests.csv, row of 2025-03-04, column valve_id: got "V9", expected a '
        "valve_id of valves.geojson: V1 or V2. Correct the value; until then its section is "
        "counted with the next one.",
        "warning: step_tests.csv, test T1, row of 2025-03-04 01:00, column valve_id: got V2 as the "
        "first step, expected a row without valve_id first, with the inflow before any section is "
        "shut. Add it; until then the first section has no drop.",
    ]


def test_the_order_of_rows_changes_nothing(
    inputs: Inputs, settings: Settings, add: Change, says: Says
) -> None:
    odd = steps(("01:00", None, 2.0), ("01:15", "V2", 2.4))
    one, other = (
        says(check_step_tests(add(inputs, "step_tests", *rows), settings=settings))
        for rows in (odd, odd[::-1])
    )
    assert one == other
