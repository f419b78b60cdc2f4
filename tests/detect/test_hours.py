"""Which hours are wanted, and net inflow by hour, typed by hand."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.detect import find_changes
from district.detect import hours as hours_of
from district.detect.changed import Changed
from district.detect.hours import beside_of, days_of, gridded, hours_wanted, net_hours
from district.network import Network
from district.settings import Settings

T = np.arange(365)
AXIS = pd.date_range("2025-01-01", periods=365, freq="D")


@pytest.fixture
def changed(
    network: Network, nights_of: Any, building_nights_of: Any, works_of: Any
) -> Callable[..., Changed]:
    def run(zones: dict[str, np.ndarray]) -> Changed:
        return find_changes(
            nights_of(zones),
            building_nights_of({}),
            network=network,
            works=works_of([]),
            settings=Settings(),
        )

    return run


def test_days_around_a_change_of_the_zone_and_of_those_metered_from_it(
    changed: Any, quiet: Any
) -> None:
    found = changed({"V2": quiet(365, 1) + 0.4 * (T >= 200), "V3": quiet(365, 2)})
    wanted = hours_wanted(found)
    assert list(wanted.columns) == ["cell_id", "day"]
    # M2 joins V1 and V2; a valve joins V2 and V3, where nothing fell.
    assert set(wanted["cell_id"]) == {"V1", "V2"}
    days = wanted.loc[wanted["cell_id"] == "V2", "day"]
    assert (days.min(), days.max()) == (AXIS[200 - 1 - 56], AXIS[200 + 27])
    assert AXIS[199] not in set(days)  # the change may lie within that day
    assert len(days) == 56 + 28


def test_a_zone_that_fell_by_as_much_is_wanted_too(changed: Any, quiet: Any) -> None:
    zones = {
        "V2": quiet(365, 3) + 0.4 * (T >= 200),
        "V3": quiet(365, 4, level=1) - 0.4 * (T >= 200),
    }
    found = changed(zones)
    assert set(hours_wanted(found)["cell_id"]) == {"V1", "V2", "V3"}
    place, run = found.runs[0]
    assert beside_of(found, place, run, {"V2": ("V3",)}) == ("V3",)


def test_of_a_growing_flow_the_last_days_tell_most(changed: Any, quiet: Any) -> None:
    found = changed({"V2": quiet(365, 5) + 0.005 * np.clip(T - 200, 0, None)})
    (place, run), *_ = found.runs
    assert run.growth_l_s_d > 0
    assert list(days_of(place, run)[1]) == list(range(337, 365))


def test_days_before_end_where_an_earlier_change_lies(changed: Any, quiet: Any) -> None:
    found = changed({"V2": quiet(365, 6) + 0.4 * (T >= 170) + 0.4 * (T >= 200)})
    place, run = found.runs[-1]
    before, _ = days_of(place, run)
    assert before.min() >= 168


def test_of_many_changes_the_latest_are_asked_for(
    changed: Any, quiet: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = changed({"V4": quiet(365, 7) + 0.4 * (T >= 120) + 0.5 * (T >= 300)})
    assert len(hours_wanted(found)) == 2 * 84
    monkeypatch.setattr(hours_of, "MOST_CELL_DAYS", 100)
    assert hours_wanted(found)["day"].min() > AXIS[200]


def test_nothing_changed_wants_nothing(changed: Any, quiet: Any) -> None:
    wanted = hours_wanted(changed({"V1": quiet(365, 8)}))
    assert wanted.empty
    assert list(wanted.columns) == ["cell_id", "day"]
    assert str(wanted["day"].dtype).startswith("datetime64")


def flows(rows: list[tuple[str, int, float]]) -> pd.DataFrame:
    frame = pd.DataFrame(rows, columns=["device_id", "hour", "flow_l_s"])
    return frame.assign(day=AXIS[0])


def test_net_inflow_is_what_enters_less_what_leaves(network: Network) -> None:
    read = flows([("M1", 3, 5.0), ("M2", 3, 2.0), ("M1", 4, 6.0), ("M2", 5, 1.0)])
    net = net_hours(read, network.boundaries).set_index(["cell_id", "hour"])["flow_l_s"]
    # V1 = M1 - M2 at three; at four and five one of its meters has no row. V2 = M2.
    assert net.to_dict() == {("V1", 3): 3.0, ("V2", 3): 2.0, ("V2", 5): 1.0}


def test_the_grid_holds_each_hour_once_and_nothing_outside_the_nights() -> None:
    table = pd.DataFrame(
        {
            "cell_id": ["V1", "V2", "V1"],
            "day": [AXIS[2], AXIS[3], AXIS[0] - pd.Timedelta(days=1)],
            "hour": [7, 0, 1],
            "flow_l_s": [1.5, 2.5, 9.0],
        }
    )
    grid = gridded(table, AXIS)
    assert grid.flow_l_s[grid.row["V1"], 2, 7] == 1.5
    assert grid.flow_l_s[grid.row["V2"], 3, 0] == 2.5
    assert int(np.isfinite(grid.flow_l_s).sum()) == 2
    assert gridded(None, AXIS).row == {}
