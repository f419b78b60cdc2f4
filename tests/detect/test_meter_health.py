from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.detect.meter_health import silent, stuck
from district.detect.standing import standing
from district.schema import empty
from district.schema.inputs import WORKS
from district.schema.stored import DAILY_VOLUMES, EMPTY_PERIODS
from district.settings import Holiday, Settings
from tests.detect.conftest import make_works
from tests.detect.still_series import household, network_of, quality_of, still_of

UTC = Settings().zone_info()
QUIET_FROM = 60


def life(days: int = 95, quiet: int | None = QUIET_FROM, seed: int = 1) -> np.ndarray:
    litres = household(days, seed)
    if quiet is not None:
        litres[24 * quiet :] = 0.0
    return litres


def health(
    series: dict[str, Any],
    buildings: dict[str, str] | None = None,
    *,
    works: pd.DataFrame | None = None,
    holidays: tuple[Holiday, ...] = (),
) -> pd.DataFrame:
    stand = standing(
        still_of(series),
        empty(EMPTY_PERIODS),
        empty(DAILY_VOLUMES),
        quality_of(*series),
        network_of(buildings or dict.fromkeys(series, "")),
    )
    found = silent(
        stand.rows,
        stand.own,
        works=empty(WORKS) if works is None else works,
        holidays=holidays,
        zone=UTC,
    )
    return found.set_index(stand.own["meter_id"].reindex(found.index))


def test_a_meter_that_lived_and_shows_nothing_for_weeks_is_dead() -> None:
    found = health({"dead": life(), "live": life(quiet=None)})
    assert found.index.to_list() == ["dead"]
    row = found.loc["dead"]
    assert bool(row["dead"])
    assert (row["idle_days"], row["left_days"], row["lived"]) == (36, 36, True)


@pytest.mark.parametrize(("days", "dead"), [(20, {"A": True}), (12, {})])
def test_beside_others_that_go_on_two_weeks_are_enough(days: int, dead: dict[str, bool]) -> None:
    series = {"A": life(60 + days), "B": life(60 + days, None)}
    same = health(series, {"A": "Hall", "B": "Hall"})
    assert same["dead"].to_dict() == dead
    assert not health(series)["dead"].any()


def test_a_building_all_silent_is_empty_not_dead() -> None:
    found = health({"A": life(), "B": life(seed=2)}, {"A": "Hall", "B": "Hall"})
    assert found["dead"].to_list() == [False, False]
    assert found["others"].to_list() == [1, 1]


def test_a_silence_like_one_before_is_the_buildings_own_way() -> None:
    litres = life(130, None)
    litres[24 * 20 : 24 * 45] = 0.0
    litres[24 * 92 :] = 0.0
    found = health({"A": litres})
    assert found["before_days"].to_list() == [pytest.approx(25, abs=1)]
    assert not found["dead"].any()


def test_days_on_record_as_empty_do_not_count() -> None:
    # 2025-05-02 is day 60, a Friday.
    away = Holiday.model_validate({"first": "2025-05-01", "last": "2025-05-20"})
    found = health({"A": life()}, holidays=(away,))
    assert (found["left_days"].to_list(), found["dead"].to_list()) == ([16], [False])
    for place in ("A", "Hall"):
        works = make_works([("2025-05-01", "2025-05-30", "empty", place)])
        found = health({"A": life()}, {"A": "Hall"}, works=works)
        assert not found["dead"].any()
    elsewhere = make_works([("2025-05-01", "2025-05-30", "empty", "B")])
    assert health({"A": life()}, works=elsewhere)["dead"].all()


def test_one_that_never_showed_flow_is_told_after_four_weeks() -> None:
    assert health({"A": np.zeros(24 * 29)})["dead"].all()
    assert not health({"A": np.zeros(24 * 20)})["dead"].any()
    assert not health({"A": np.zeros(24 * 29)})["lived"].any()


def test_half_a_zone_silent_from_one_day_on_is_counted() -> None:
    series = {f"M{i}": life(seed=i) for i in range(3)} | {"N": life(quiet=None)}
    assert health(series)["together"].to_list() == [3, 3, 3]
    few = {"M0": life()} | {f"N{i}": life(quiet=None) for i in range(3)}
    assert health(few)["together"].to_list() == [0]


def test_hours_at_one_flow_up_to_the_last_day_are_stuck() -> None:
    still = still_of({"A": household(10, 1), "B": household(10, 2)}).set_index("device_id")
    still = still.reset_index()
    last = still["day"] > pd.Timestamp("2025-03-10")
    still.loc[last & (still["device_id"] == "A"), ["hours_count", "stuck_h"]] = [0.0, 24.0]
    still.loc[~last & (still["device_id"] == "B"), ["hours_count", "stuck_h"]] = [0.0, 24.0]
    own = pd.DataFrame(index=["A", "B"])
    assert stuck(still, own).to_dict() == {"A": 48.0}
