"""The water of each day."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.balance import district_balance
from district.balance.days import nearest_leakage_l_s

CELLS = pd.Index(["A"], dtype=object)


def nearest(nights: dict[str, float], days: pd.DatetimeIndex, **columns: Any) -> list[float]:
    table = pd.DataFrame(
        {
            "cell_id": "A",
            "night": pd.to_datetime(list(nights)),
            "leakage_l_s": list(nights.values()),
            "status": "measured",
            "works": "",
        }
    ).assign(**columns)
    return list(nearest_leakage_l_s(table, cells=CELLS, days=days)[:, 0])


def test_nearest_night_within_a_week() -> None:
    days = pd.date_range("2026-01-01", "2026-01-20").as_unit("us")
    found = nearest({"2026-01-05": 1.0, "2026-01-09": 2.0}, days)
    # 7 January is as near to both: the earlier night counts. 17 January is eight days off.
    assert found[:7] == [1.0] * 7
    assert found[7:16] == [2.0] * 9
    assert np.isnan(found[16:]).all()


def test_distance_is_in_days_even_where_nights_lie_outside_the_record() -> None:
    days = pd.date_range("2026-01-20", "2026-01-21").as_unit("us")
    assert np.isnan(nearest({"2026-01-05": 1.0}, days)).all()
    assert nearest({"2026-01-13": 1.0}, days)[0] == 1.0


def test_nights_with_works_do_not_speak_for_a_day() -> None:
    days = pd.date_range("2026-01-05", "2026-01-06").as_unit("us")
    nights = {"2026-01-05": 9.0, "2026-01-06": 1.0}
    assert nearest(nights, days, works=["flushing", ""]) == [1.0, 1.0]
    assert np.isnan(nearest(nights, days, status="no_inflow")).all()


def test_days_by_hand(make_network: Any, make_reduced: Any, settings: Any, no_works: Any) -> None:
    found = district_balance(make_network(), make_reduced(), settings=settings, works=no_works)
    south = found.days[found.days["cell_id"] == "South"].iloc[0]
    leak_l_s = 0.4 - 60 * 1.7 / 3600  # inflow less allowed use of 60 properties
    assert south["inflow_m3"] == 50.0
    assert south["losses_m3"] == pytest.approx(leak_l_s * 24 * 3.6)
    assert south["residual_m3"] == pytest.approx(
        50.0 - south["consumption_m3"] - south["losses_m3"]
    )


def test_a_day_without_inflow_is_empty_not_zero(
    make_network: Any, make_reduced: Any, settings: Any, no_works: Any
) -> None:
    daily = make_reduced().daily_volumes
    gone = daily[(daily["device_id"] == "M1") & (daily["day"] == "2026-03-04")].index
    found = district_balance(
        make_network(),
        make_reduced(daily_volumes=daily.drop(gone)),
        settings=settings,
        works=no_works,
    )
    day = found.days[(found.days["day"] == "2026-03-04") & (found.days["cell_id"] == "North")]
    assert day["inflow_m3"].isna().all()
    assert day["residual_m3"].isna().all()
    assert day["losses_m3"].notna().all()
