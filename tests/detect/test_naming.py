"""Runs named, with evidence made by hand."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from district.detect import find_changes
from district.detect.by_hour import ByHour
from district.detect.evidence import Evidence
from district.detect.naming import Named, named
from district.network import Network
from district.settings import Settings

T = np.arange(365)
ACT = ("leak", "growing_leak", "building_flow", "unknown", "meter_fault", "boundary")


@pytest.fixture
def name(
    network: Network, nights_of: Any, building_nights_of: Any, works_of: Any, quiet: Any
) -> Any:
    def run(
        causes: dict[str, float],
        *,
        zones: dict[str, np.ndarray] | None = None,
        buildings: Any = None,
        moved: Any = None,
        works: Any = (),
    ) -> tuple[Named, ...]:
        changed = find_changes(
            nights_of(zones or {"V2": quiet(365, 1) + 0.4 * (T >= 200)}),
            building_nights_of(buildings or {}),
            network=network,
            works=works_of(list(works)),
            settings=Settings(),
        )
        seen = Evidence("hours say so", causes)
        keys = [(p.place_id, r.position) for p, r in changed.runs if p.kind == "zone"]
        return named(
            changed,
            by_hour=ByHour(dict.fromkeys(keys, seen), {k: moved or {} for k in keys}),
            fed_from_outside=frozenset({"V1"}),
            used={},
            off=(),
            settings=Settings(),
        )

    return run


def test_a_leak_that_is_not_ruled_out_is_said_and_stays_to_act_on(name: Any) -> None:
    (one,) = name({"use": 3.2})
    assert one.kind == "use"
    assert one.weighed.leak_share() >= 0.1
    assert "but a leak is not ruled out" in one.reason
    assert one.acts(ACT)


def test_a_use_beyond_doubt_is_not_to_act_on(name: Any) -> None:
    (one,) = name({"use": 9.0})
    assert (one.kind, one.state) == ("use", "open")
    assert one.weighed.leak_share() < 0.1
    assert "not ruled out" not in one.reason
    assert not one.acts(ACT)


def test_hours_may_outweigh_a_zone_that_fell_on_the_same_nights(name: Any, quiet: Any) -> None:
    zones = {
        "V2": quiet(365, 1) + 0.4 * (T >= 200),
        "V3": quiet(365, 2, level=1) - 0.4 * (T >= 200),
    }
    (one,) = name({}, zones=zones)
    assert (one.kind, one.other_cell_id) == ("boundary", "V3")
    (other,) = name({}, zones=zones, moved={"V3": -12.0})
    assert (other.kind, other.other_cell_id) == ("leak", "")


def test_a_valve_operated_on_the_same_days_explains_moved_water(name: Any, quiet: Any) -> None:
    zones = {
        "V2": quiet(365, 1) + 0.4 * (T >= 200),
        "V3": quiet(365, 2, level=1) - 0.4 * (T >= 200),
    }
    works = [("2025-07-19T08:00", "2025-07-19T09:00", "valve_operation", "X1")]
    (one,) = name({}, zones=zones, works=works)
    assert (one.kind, one.state) == ("boundary", "explained")
    assert one.work == "a valve operation at X1 on 2025-07-19"
    assert not one.acts(ACT)


def test_a_changed_meter_explains_a_step(name: Any) -> None:
    works = [("2025-07-19T08:00", "2025-07-19T09:00", "meter_change", "M2")]
    (one,) = name({}, works=works)
    assert (one.kind, one.state) == ("meter_fault", "explained")
    # Unless its hours are those of a leak beyond doubt.
    (leak,) = name({"use": -15.0, "meter_fault": -15.0, "boundary": -15.0}, works=works)
    assert (leak.kind, leak.state) == ("leak", "open")
    assert "does not explain it" in leak.reason


def test_a_building_is_weighed_by_its_own_priors(name: Any, quiet: Any) -> None:
    flow = quiet(365, 15, level=0.02, sigma=0.005) + 0.15 * (T >= 200)
    (one,) = name({}, zones={"V1": quiet(365, 3)}, buildings={"B1": flow})
    assert one.kind == "building_flow"
    assert set(one.weighed.shares) == {"building_flow", "use", "meter_fault", "unknown"}
