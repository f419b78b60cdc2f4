"""How well loggers tell the pressure of a zone."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.balance.gauges import LOGGER_SPREAD_M, UNLEVELLED_SPREAD_M, gauged, with_gauge

CELLS = pd.Index(["North", "South"], dtype=object)
DARK = slice(2, 4)


@pytest.fixture
def days(nights: pd.DatetimeIndex) -> pd.DatetimeIndex:
    return nights[:3].as_unit("us")


def sensors_of(network: Any, levels: list[float]) -> pd.DataFrame:
    """Loggers G1, G2 ... in North, at these levels."""
    one = network.sensors
    return pd.concat(
        [
            one.rename(index={"G1": f"G{i}"}).assign(elevation_m=level)
            for i, level in enumerate(levels, 1)
        ]
    )


def spread_of(
    make_network: Any,
    table: Any,
    days: Any,
    readings: list[float],
    levels: list[float],
    **changes: Any,
) -> float:
    network = make_network(sensors=sensors_of(make_network(), levels), **changes)
    hourly = pd.concat([table(days, p, f"G{i}") for i, p in enumerate(readings, 1)])
    found = gauged(network, hourly, cells=CELLS, days=days, night=DARK)
    assert (found.loggers_count[:, 0] == len(readings)).all()
    return float(found.spread_m[0, 0])


def test_limits_shrink_with_loggers_that_agree(
    make_network: Any, pressure_table: Any, days: Any
) -> None:
    spreads = [
        spread_of(make_network, pressure_table, days, [50.0] * n, [8.0] * n) for n in (1, 2, 4)
    ]
    assert spreads == pytest.approx([LOGGER_SPREAD_M / np.sqrt(n) for n in (1, 2, 4)])


def test_loggers_that_disagree_widen_them(
    make_network: Any, pressure_table: Any, days: Any
) -> None:
    agree = spread_of(make_network, pressure_table, days, [50.0, 50.5], [8.0, 8.0])
    apart = spread_of(make_network, pressure_table, days, [50.0, 62.0], [8.0, 8.0])
    assert agree == pytest.approx(LOGGER_SPREAD_M / np.sqrt(2))
    assert apart > 2 * agree
    # The same head at two levels is no disagreement.
    level = spread_of(make_network, pressure_table, days, [50.0, 38.0], [8.0, 20.0])
    assert level == pytest.approx(agree)


def with_levels(network: Any, levels: list[float]) -> Any:
    """North's four connections, and one more, at these levels."""
    more = pd.concat([network.connections, network.connections.iloc[:1].rename({"K1": "K8"})])
    north = more["cell_id"] == "North"
    more.loc[north, "elevation_m"] = levels
    return more


def test_an_unknown_level_costs_the_relief_of_the_ground(
    make_network: Any, pressure_table: Any, days: Any
) -> None:
    flat = with_levels(make_network(), [10.0, 10.5, 9.5, 10.2, 9.8])
    hilly = with_levels(make_network(), [0.0, 25.0, 5.0, 20.0, 0.0])
    known = [
        spread_of(make_network, pressure_table, days, [50.0], [8.0], connections=c)
        for c in (flat, hilly)
    ]
    bare = [
        spread_of(make_network, pressure_table, days, [50.0], [np.nan], connections=c)
        for c in (flat, hilly)
    ]
    # A logger of known level is carried to the mean of any ground.
    assert known == pytest.approx([LOGGER_SPREAD_M] * 2)
    assert bare[0] < UNLEVELLED_SPREAD_M < bare[1]
    untold = spread_of(make_network, pressure_table, days, [50.0], [np.nan])
    assert untold == UNLEVELLED_SPREAD_M


def test_a_mean_of_few_known_levels_is_less_sure(
    make_network: Any, pressure_table: Any, days: Any
) -> None:
    part = with_levels(make_network(), [0.0, 25.0, np.nan, np.nan, np.nan])
    found = spread_of(make_network, pressure_table, days, [50.0], [8.0], connections=part)
    # Two of five levels known, 17.7 m apart by standard deviation.
    lacking = 1.96 * np.std([0, 25], ddof=1) * np.sqrt(1 / 2 - 1 / 5)
    assert found == pytest.approx(np.hypot(LOGGER_SPREAD_M, lacking))


def test_order_of_rows_does_not_matter_and_silence_counts_as_none(
    make_network: Any, pressure_table: Any, days: Any
) -> None:
    network = make_network(sensors=sensors_of(make_network(), [8.0, 9.1, 12.3]))
    hourly = pd.concat(
        [pressure_table(days[:n], 50.0 + n / 3, f"G{n}") for n in (1, 2, 3)], ignore_index=True
    )
    first = gauged(network, hourly, cells=CELLS, days=days, night=DARK)
    mixed = gauged(network, hourly.sample(frac=1, random_state=3), cells=CELLS, days=days,
                   night=DARK)  # fmt: skip
    for part in ("by_hour_m", "loggers_count", "spread_m"):
        assert np.array_equal(getattr(first, part), getattr(mixed, part), equal_nan=True)
    assert first.loggers_count[:, 0].tolist() == [3, 2, 1]
    assert first.loggers_count[:, 1].tolist() == [0, 0, 0]
    assert np.isnan(first.by_hour_m[:, :, 1]).all()


def test_only_pressure_loggers_are_gauges(make_network: Any) -> None:
    network = make_network()
    assert with_gauge(network, CELLS).tolist() == [0]
    deaf = make_network(sensors=network.sensors.assign(kind="acoustic"))
    assert with_gauge(deaf, CELLS).tolist() == []
