"""What changed, before it is named."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.detect import find_changes, find_events
from district.network import Network
from district.settings import Settings

T = np.arange(365)


@pytest.fixture
def tables(network: Network, works_of: Any) -> dict[str, Any]:
    return {"network": network, "works": works_of([]), "settings": Settings()}


def test_runs_worth_a_row(tables: Any, nights_of: Any, building_nights_of: Any, quiet: Any) -> None:
    nights = nights_of({"V1": quiet(365, 1) + 0.4 * (T >= 200), "V2": quiet(365, 2)})
    found = find_changes(nights, building_nights_of({"B1": quiet(365, 3)}), **tables)
    assert [(p.place_id, r.position) for p, r in found.runs] == [("V1", 200)]
    assert {p.place_id for p in found.places} == {"V1", "V2", "B1"}
    assert found.touching[frozenset({"V1", "V2"})] == ("meter M2",)


def test_a_rise_that_undoes_a_fall_of_the_other_zone_is_none(
    tables: Any, nights_of: Any, building_nights_of: Any, quiet: Any
) -> None:
    wrong = 0.3 * ((T >= 150) & (T < 250))
    nights = nights_of({"V1": quiet(365, 11) - wrong, "V2": quiet(365, 12) + wrong})
    found = find_changes(nights, building_nights_of({}), **tables)
    assert [(p.place_id, r.position, r.last) for p, r in found.runs] == [("V2", 150, 249)]
    assert found.partners["V2", 150][0] == "V1"


def test_changes_found_beforehand_give_the_same_events(
    tables: Any, nights_of: Any, building_nights_of: Any, alarms_of: Any, quiet: Any
) -> None:
    nights = nights_of({"V1": quiet(365, 1) + 0.4 * (T >= 200)})
    buildings = building_nights_of({"B1": quiet(365, 4) + 0.3 * (T >= 250)})
    changed = find_changes(nights, buildings, **tables)
    once = find_events(nights, buildings, alarms=alarms_of([]), **tables)
    twice = find_events(nights, buildings, alarms=alarms_of([]), changed=changed, **tables)
    pd.testing.assert_frame_equal(once.events, twice.events)
    pd.testing.assert_frame_equal(once.causes, twice.causes)


def test_no_nights_no_changes(tables: Any, nights_of: Any, building_nights_of: Any) -> None:
    found = find_changes(nights_of({"V1": []}), building_nights_of({}), **tables)
    assert found.runs == ()
    assert len(found.axis) == 0
