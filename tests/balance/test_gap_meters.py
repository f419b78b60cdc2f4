"""A zone meter that reads high, as the cause of a gap."""

from __future__ import annotations

from typing import Any

import pytest

from district.balance import district_balance
from district.settings import Settings


def test_a_zone_meter_that_reads_high_by_day_and_at_night(
    make_network: Any,
    make_reduced: Any,
    no_works: Any,
    day_table: Any,
    night_table: Any,
    nights: Any,
) -> None:
    network, reduced = make_network(), make_reduced()
    found = district_balance(network, reduced, settings=Settings(), works=no_works)
    causes = found.gap_causes.set_index(["cell_id", "input"])
    row = causes.loc[("South", "zone meter M2 reads high")]
    true = 1 - row["closing_value"] / 100
    mended = make_reduced(
        daily_volumes=day_table(nights, {"M1": 130, "M2": 50 * true, "B1": 25, "C1": 4, "C2": 10}),
        night_flows=night_table(nights, {"M1": 1.0, "M2": 0.4 * true, "B1": 0.2}),
    )
    again = district_balance(network, mended, settings=Settings(), works=no_works)
    # The shares of input that are assumed move with it: 0.75 % of the change.
    gap = found.loss_gaps.set_index("cell_id")["gap_m3"]["South"]
    left = again.loss_gaps.set_index("cell_id")["gap_m3"]["South"]
    assert abs(left) < 0.05 * abs(gap)
    # 2 % is the meter's 95 % limit.
    assert row["deviations_index"] == pytest.approx(abs(row["closing_value"]) / 2 * 1.96)
    assert ("district", "zone meter M2 reads high") not in causes.index
    assert ("district", "zone meter M1 reads high") in causes.index
