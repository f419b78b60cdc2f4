"""The series to test, on common nights."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd
import pytest

from district.detect.places import (
    common_nights,
    noise_table,
    prepared,
    stirring,
    unstirred,
)
from district.network import Network
from district.settings import Settings

Make = Callable[..., pd.DataFrame]
Quiet = Callable[..., np.ndarray]
SETTINGS = Settings()


def test_all_places_count_from_one_night(
    network: Network, nights_of: Make, building_nights_of: Make, quiet: Quiet
) -> None:
    nights = nights_of({"V1": quiet(60, 1), "V2": quiet(60, 2)})
    nights = nights[(nights["cell_id"] == "V1") | (nights["night"] >= "2025-01-11")]
    buildings = building_nights_of({"B1": quiet(80, 3), "B2": quiet(80, 4)})
    places, thin = prepared(nights, buildings, network, SETTINGS)
    assert [(p.kind, p.place_id, p.cell_id) for p in places] == [
        ("zone", "V1", "V1"),
        ("zone", "V2", "V2"),
        ("building", "B1", "V2"),
    ]
    assert {len(p.flow_l_s) for p in places} == {80}
    assert [p.last() for p in places] == [59, 59, 79]
    assert np.isnan(places[1].flow_l_s[:10]).all()
    assert thin == []


def test_unmeasured_nights_are_left_out_and_thin_places_named(
    network: Network, nights_of: Make, building_nights_of: Make, quiet: Quiet
) -> None:
    nights = nights_of({"V1": quiet(30, 1)})
    nights.loc[nights.index >= 10, "status"] = "no_inflow"
    places, thin = prepared(nights, building_nights_of({}), network, SETTINGS)
    assert places == []
    assert thin[0].startswith("zone V1: 10 usable nights")


def test_volume_follows_the_night_to_day_factor_or_24_hours(
    network: Network, nights_of: Make, building_nights_of: Make, quiet: Quiet
) -> None:
    none = building_nights_of({})
    plain, _ = prepared(nights_of({"V1": quiet(30, 1)}), none, network, SETTINGS)
    assert plain[0].m3_per_l_s == pytest.approx(86.4)
    assert (plain[0].error_share, plain[0].factor_share) == (0.02, 0.0)
    low = nights_of(
        {"V1": quiet(30, 1)},
        night_day_factor_h_d=20.0,
        night_day_factor_h_d_low=18.0,
        night_day_factor_h_d_high=22.0,
    )
    factored, _ = prepared(low, none, network, SETTINGS)
    assert factored[0].m3_per_l_s == pytest.approx(72.0)
    assert factored[0].error_share == pytest.approx(0.02)
    assert factored[0].factor_share == pytest.approx(0.1)


def test_no_nights_have_no_axis(nights_of: Make, building_nights_of: Make, quiet: Quiet) -> None:
    none = building_nights_of({})
    assert len(common_nights(none, none)) == 0
    assert len(common_nights(nights_of({"V1": quiet(5, 1)}), none)) == 5


def test_the_noise_of_zones_is_told_with_its_limits(
    network: Network, nights_of: Make, building_nights_of: Make, quiet: Quiet
) -> None:
    buildings = building_nights_of({"B1": quiet(80, 3)})
    places, _ = prepared(nights_of({"V1": quiet(60, 1)}), buildings, network, SETTINGS)
    (row,) = noise_table(places).to_dict("records")
    assert (row["cell_id"], row["nights_count"]) == ("V1", 60)
    assert row["noise_l_s"] == places[0].sigma_l_s
    assert row["noise_l_s_low"] < row["noise_l_s"] < row["noise_l_s_high"]
    assert list(noise_table([]).columns) == list(row)


def test_places_that_cannot_hold_a_listed_change_are_spared() -> None:
    quiet, risen, once, lone = np.zeros(40), np.zeros(40), np.zeros(40), np.full(40, np.nan)
    risen[20:] = 0.04
    once[20] = 5.0
    lone[3] = 9.0
    flow = np.column_stack([quiet, risen, once, lone, risen + 7.0])
    flow[5, 1] = np.nan
    assert list(stirring(flow, smallest_l_s=0.03)) == [False, True, False, False, True]
    assert list(stirring(flow, smallest_l_s=0.05)) == [False] * 5
    assert unstirred(flow).alarms == ((),) * 5
