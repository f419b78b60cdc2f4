"""A made step test: planned on a small town, and one that was read."""

from __future__ import annotations

from datetime import date, time

import pandas as pd

from district.isolate import Night, Sought, plan_step_test
from district.schema.columns import empty
from district.schema.step_tables import STEP_SECTIONS
from district.settings import Settings
from district.stepping import StepTest
from tests.isolate.towns import cut, town

READ = {
    "test_id": "ST-1", "cell_id": "supply S", "day": pd.Timestamp("2025-10-17"),
    "connections_count": 30, "shows": True, "length_m": 420.0, "properties_count": 31,
    **{f"{name}{end}": value + more for name, value in
       (("drop_l_s", 0.6), ("use_l_s", 0.1), ("beyond_l_s", 0.5), ("beyond_l_km_h", 4300.0),
        ("beyond_l_property_h", 58.0))
       for end, more in (("", 0.0), ("_low", -0.05), ("_high", 0.05))},
}  # fmt: skip
ROWS = [
    READ | {"section_id": "1", "valve_id": "V9", "said": "Section 1 took most."},
    READ | {"section_id": "0", "valve_id": "", "said": "What stayed open.",
            "beyond_l_property_h": None},
]  # fmt: skip


def stepped(*, read: bool = True) -> StepTest:
    """Planned for a leak of 0.5 L/s, and with a test on record."""
    network = town(of_houses={"H3": {"critical": True}})
    plan = plan_step_test(
        network,
        cut(network),
        "supply S",
        probability_share=network.pipes["length_m"],
        sought=Sought(0.5, 0.4, 0.6),
        night=Night(time(1, 30), time(4, 30)),
        settings=Settings(),
    )
    results = pd.DataFrame(ROWS, columns=list(STEP_SECTIONS.names()))
    return StepTest(
        cell_id="supply S",
        name="Kiln Lane",
        plan=plan,
        results=results if read else empty(STEP_SECTIONS),
        rests_on=("The leak looked for is E-1.", *plan.assumed),
        results_rest_on=("Expected use is allowed for.",) if read else (),
        network=network,
        district="Quernhollow",
        last=date(2025, 12, 31),
    )
