"""Inputs by name, value and limits, by hand."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.balance import metering, night_balance
from district.balance.audit_inputs import (
    adjusted,
    device_name,
    factor_row,
    interval_use,
    mean,
    meters_by_place,
    middle,
    night_meters,
    pressure_row,
    scatter_row,
    use_parts,
    volume_rows,
)
from district.balance.audit_rows import Row
from district.balance.use import night_use
from district.balance.volumes import daily_volumes
from district.estimates import estimate
from district.settings import ExceptionalUse, Settings


def all_nights(values: Any) -> Any:
    return middle(np.ones((20, 2), dtype=bool))(values)


def test_each_cell_has_its_meters_in_turn(make_network: Any) -> None:
    first, second = meters_by_place(metering(make_network()))
    assert list(first[2]) == ["zone meter M1", "zone meter M2"]
    assert list(second[2]) == ["zone meter M2", ""]
    assert list(first[1]) == [1.0, 1.0]
    assert list(second[1]) == [-1.0, 0.0]


def test_a_tank_is_no_meter_in_words(make_network: Any) -> None:
    layout = replace(metering(make_network()), tanks=("M2",))
    assert device_name(layout, "M1") == "zone meter M1"
    assert device_name(layout, "M2") == "what tank M2 stored"


def test_a_meter_of_a_lowest_hour_is_named_by_its_own_id(make_network: Any) -> None:
    layout = replace(metering(make_network()), tanks=("T 2",), apart=True)
    assert device_name(layout, "0 M 1") == "zone meter M 1"
    assert device_name(layout, "12 T 2") == "what tank T 2 stored"


def test_night_flow_of_the_meters_and_their_errors(
    make_network: Any, make_reduced: Any, settings: Any, no_works: Any
) -> None:
    network = make_network()
    night = night_balance(network, make_reduced(), settings=settings, works=no_works)
    rows, effects = night_meters(night, all_nights)
    np.testing.assert_allclose(rows["meter:0"].value, [1.0, 0.4])
    np.testing.assert_allclose(rows["meter:1"].value, [0.4, np.nan])
    assert list(rows["meter:1"].operation) == ["-", ""]
    np.testing.assert_allclose(effects["meter:0"][0], [0.02, 0.008])
    np.testing.assert_allclose(effects["meter:1"][1], [0.008, 0.0])


def test_volumes_of_the_meters_and_their_errors(
    make_network: Any, make_reduced: Any, settings: Any
) -> None:
    network = make_network()
    layout = metering(network)
    volumes = daily_volumes(network, layout, make_reduced().daily_volumes, settings=settings)
    counted = np.isfinite(volumes.inflow_m3)
    rows, effects = volume_rows(layout, volumes, counted, days_count=365.0, unit="m³")
    np.testing.assert_allclose(rows["volume:0"].value, [130 * 365, 50 * 365])
    np.testing.assert_allclose(rows["volume:1"].value, [50 * 365, np.nan])
    np.testing.assert_allclose(effects["volume:1"][0], [0.02 * 50 * 365, 0.0])


def test_allowances_by_class_and_exceptional_users(make_network: Any) -> None:
    layout = metering(make_network())
    extra = ExceptionalUse(zone_id="South", flow_l_s=0.3, note="bakery")
    settings = Settings(exceptional_use=(extra,))
    bare = layout.users[layout.users["meter_id"] == ""]
    use = night_use(bare, layout.cells, homes=layout.homes, settings=settings)
    rows, effects = use_parts(use.parts, period="night", unit="L/s", operation="-")
    home = rows["night:household"]
    # South: 30 households and one property of a class without an allowance.
    assert list(home.input) == [
        "night use of 100 household properties",
        "night use of 31 household properties",
    ]
    rate = settings.allowances["household"].l_property_h
    assert home.value[0] == pytest.approx(100 * rate / 3600)
    assert effects["night:household"][0][0] == pytest.approx(0.4 * 100 * rate / 3600)
    assert home.source == "[allowances.household] in district.toml"
    bakery = rows["night:bakery"]
    assert list(bakery.input) == ["night use: bakery"] * 2
    assert bakery.value[1] == 0.3
    assert np.isnan(bakery.value[0])
    assert effects["night:bakery"][1][1] == pytest.approx(0.06)


def test_metered_use_and_scatter(
    make_network: Any, make_reduced: Any, settings: Any, no_works: Any
) -> None:
    night = night_balance(make_network(), make_reduced(), settings=settings, works=no_works)
    use = np.tile([0.2, 0.0], (20, 1))
    systematic = np.tile([0.004, 0.0], (20, 1))
    row, effect = interval_use(night, use, all_nights, systematic=systematic, operation="-")
    assert "(1 in the district)" in row.input
    np.testing.assert_allclose(row.value, [0.2, np.nan])
    assert effect[0][0] == pytest.approx(1.96 * 0.004)
    scatter = scatter_row((np.array([0.1]), np.array([0.3])), np.array([28]))
    assert (scatter.low[0], scatter.high[0]) == (-0.1, 0.3)
    assert scatter.input[0] == "scatter of 28 nights: lumpy draws, steps of meters"


def test_medians_of_sums_are_brought_to_sums_of_medians() -> None:
    rows = adjusted({}, np.array([1.0, 1.0]), unit="L/s", made=np.array([0.9, 1.0]))
    np.testing.assert_allclose(rows["adjustment"].value, [0.1, np.nan])


def test_means_and_medians_over_the_nights_that_count() -> None:
    chosen = np.array([[True, False], [True, False], [True, False], [False, False]])
    values = np.array([[1.0, 1], [2, 1], [6, 1], [99, 1]])
    np.testing.assert_allclose(middle(chosen)(values), [2.0, np.nan])
    np.testing.assert_allclose(mean(chosen)(values), [3.0, np.nan])


def test_assumed_and_measured_pressure_differ_in_words() -> None:
    rests = pd.Series(["logger", "assumed"]).to_numpy()
    metres = estimate([40.0, 40.0], [38.0, 30.0], [42.0, 50.0])
    pressure: Row = pressure_row(metres, rests)
    assert list(pressure.kind) == ["measured", "assumed"]
    factor = factor_row(metres, rests)
    assert factor.input[0] == "night-to-day factor: exponent and daily course of pressure"
    assert factor.input[1] == "night-to-day factor: no hourly pressure"
