"""Seven nights, weeks, months, quarters and years: by the published rule, by hand, and drawn."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.balance import metering, night_balance
from district.balance.periods import night_periods, seven_nights
from district.schema import check
from district.schema.night_tables import NIGHT_PERIODS, SEVEN_NIGHTS

NIGHTS = pd.date_range("2026-12-21", "2027-01-20", freq="D")  # A Monday; ISO weeks 52, 53, 1, ...
SOUTH_USE_L_S = 60 * 1.7 / 3600


def minima_rows(nights: Any, flow: Any, cell: str = "South") -> pd.DataFrame:
    return pd.DataFrame({"cell_id": cell, "night": nights, "minimum_night_flow_l_s": flow})


@pytest.fixture
def told(make_network: Any, make_reduced: Any, night_table: Any, settings: Any) -> Any:
    def balanced(
        lowest: Any, *, inflow: Any = None, works: Any = None, nights: Any = NIGHTS
    ) -> Any:
        network = make_network()
        night = night_balance(
            network,
            make_reduced(
                nights,
                night_flows=night_table(nights, {"M2": lowest if inflow is None else inflow}),
                night_minima=minima_rows(nights, lowest),
            ),
            settings=settings,
            works=works,
        )
        cells = metering(network).cells
        seven, periods = seven_nights(night, cells=cells), night_periods(night, cells=cells)
        south = seven[seven["cell_id"] == "South"].set_index("night")
        return south, periods[periods["cell_id"] == "South"].set_index("period")

    return balanced


def test_the_20th_percentile_of_the_last_seven_nights(told: Any, no_works: Any) -> None:
    """UKWIR report 99/WM/08/21 (abstract); of seven it lies at 0.2 x 6 = 1.2 from the lowest."""
    lowest = np.resize([0.5, 0.9, 0.6, 0.4, 0.8, 0.7, 0.3], len(NIGHTS))
    seven, periods = told(lowest, works=no_works)
    last = seven.loc["2026-12-27"]
    assert last["nights_count"] == 7
    assert last["minimum_night_flow_l_s"] == pytest.approx(0.4 + 0.2 * 0.1)
    assert last["leakage_l_s"] == pytest.approx(0.42 - SOUTH_USE_L_S)
    assert periods.loc["2026-W52", "minimum_night_flow_l_s"] == pytest.approx(0.42)
    assert periods.loc["2026-W52", "leakage_l_s"] == pytest.approx(0.42 - SOUTH_USE_L_S)


def test_a_month_is_the_mean_of_its_available_days(told: Any, no_works: Any) -> None:
    lowest = 0.5 + 0.01 * np.arange(len(NIGHTS))
    seven, periods = told(lowest, works=no_works)
    # Rising by 0.01 a night, the percentile lies 4.8 nights back; from the fourth night on.
    assert seven["minimum_night_flow_l_s"].notna().sum() == len(NIGHTS) - 3
    assert seven.loc["2027-01-20", "minimum_night_flow_l_s"] == pytest.approx(0.80 - 0.048)
    december = seven.loc["2026-12", "minimum_night_flow_l_s"]
    assert periods.loc["2026-12", "minimum_night_flow_l_s"] == pytest.approx(december.mean())
    assert periods.loc["2026-12", ["nights_count", "days_count"]].tolist() == [11, 8]
    assert periods.loc["2027-01", "minimum_night_flow_l_s"] == pytest.approx(0.655 + 0.05 - 0.048)
    assert periods.loc["2027-01", "days_count"] == 20


def test_periods_go_by_the_local_date_and_the_iso_week(told: Any, no_works: Any) -> None:
    _, periods = told(np.full(len(NIGHTS), 0.5), works=no_works)
    by_kind = periods.groupby("period_kind").groups
    assert list(by_kind["week"]) == ["2026-W52", "2026-W53", "2027-W01", "2027-W02", "2027-W03"]
    assert list(by_kind["month"]) == ["2026-12", "2027-01"]
    assert list(by_kind["quarter"]) == ["2026-Q4", "2027-Q1"]
    assert list(by_kind["year"]) == ["2026", "2027"]
    week = periods.loc["2026-W53"]
    assert (str(week["first"].date()), str(week["last"].date())) == ("2026-12-28", "2027-01-03")
    assert periods.loc["2027-W03", "nights_count"] == 3
    assert np.isnan(periods.loc["2027-W03", "leakage_l_s"])


def test_nights_with_works_and_unmeasured_nights_are_left_out(told: Any) -> None:
    lowest = np.full(len(NIGHTS), 0.5)
    lowest[2] = 9.0  # Flushing on 23 December.
    inflow = lowest.copy()
    inflow[3] = np.nan
    works = pd.DataFrame(
        {
            "start": pd.to_datetime(["2026-12-23 01:00"]),
            "end": pd.to_datetime(["2026-12-23 04:00"]),
            "kind": ["flushing"],
            "place_id": ["South"],
        }
    )
    seven, periods = told(lowest, inflow=inflow, works=works)
    assert seven["nights_count"].iloc[:8].tolist() == [1, 2, 2, 2, 3, 4, 5, 5]
    assert seven.loc["2026-12-26", "minimum_night_flow_l_s"] == pytest.approx(0.5)
    assert seven["minimum_night_flow_l_s"].max() == pytest.approx(0.5)
    assert periods.loc["2026-W52", "nights_count"] == 5


def test_fewer_than_four_nights_of_seven_give_none(told: Any, no_works: Any) -> None:
    lowest = np.full(len(NIGHTS), 0.5)
    lowest[7:11] = np.nan
    seven, periods = told(lowest, works=no_works)
    empty = seven.index[seven["minimum_night_flow_l_s"].isna()]
    assert [d.strftime("%m-%d") for d in empty] == [
        "12-21", "12-22", "12-23", "12-31", "01-01", "01-02", "01-03",
    ]  # fmt: skip
    assert np.isnan(periods.loc["2026-W53", "leakage_l_s"])
    assert periods.loc["2026-W53", ["nights_count", "days_count"]].tolist() == [3, 0]


def test_limits_hold_the_plain_mean_too(told: Any, no_works: Any) -> None:
    """One unusual night of seven moves the mean, not the percentile: the limits hold both."""
    lowest = np.full(len(NIGHTS), 0.5)
    lowest[6] = 1.2
    seven, _ = told(lowest, works=no_works)
    last = seven.loc["2026-12-27"]
    assert last["minimum_night_flow_l_s"] == pytest.approx(0.5)
    assert last["minimum_night_flow_l_s_high"] > 0.6
    assert last["minimum_night_flow_l_s_low"] < 0.5
    quiet = seven.loc["2027-01-20"]
    # Alike on all nights: what is left is the meter's 2 %.
    assert quiet["minimum_night_flow_l_s_high"] == pytest.approx(0.5 * 1.02, rel=1e-3)


def test_of_noisy_nights_the_percentile_lies_low_and_the_limits_know(
    told: Any, no_works: Any
) -> None:
    """Of seven normal values it lies 0.8 x 0.7574 + 0.2 x 0.3527 = 0.676 deviations low: order
    statistics, Harter 1961, Biometrika 48 (from memory)."""
    rng = np.random.default_rng(3)
    nights = pd.date_range("2020-01-01", periods=1500, freq="D")
    mean, deviation = 2.0, 0.1
    flow = rng.normal(mean, deviation, len(nights))
    seven, periods = told(flow, works=no_works, nights=nights)
    figures = seven["leakage_l_s"].dropna()
    truth = mean - SOUTH_USE_L_S
    assert figures.mean() == pytest.approx(truth - 0.676 * deviation, abs=0.01)
    months = periods[periods["period_kind"] == "month"]
    for found in (seven.dropna(), months):
        held = (found["leakage_l_s_low"] <= truth) & (truth <= found["leakage_l_s_high"])
        assert held.mean() > 0.95
    # As wide as the bias and the scatter of a month's mean ask for, no wider.
    width = months["leakage_l_s_high"] - months["leakage_l_s"]
    assert width.median() < 2.5 * deviation


def test_no_night_measured_leaves_the_figures_empty(told: Any, no_works: Any) -> None:
    lowest = np.full(len(NIGHTS), np.nan)
    seven, periods = told(lowest, inflow=np.ones(len(NIGHTS)), works=no_works)
    assert seven["leakage_l_s"].isna().all()
    assert periods["leakage_l_s_high"].isna().all()
    assert (periods["nights_count"] == 0).all()


def test_tables_are_as_declared(
    make_network: Any, make_reduced: Any, settings: Any, no_works: Any
) -> None:
    network = make_network()
    night = night_balance(network, make_reduced(), settings=settings, works=no_works)
    cells = metering(network).cells
    for table, frame in (
        (SEVEN_NIGHTS, seven_nights(night, cells=cells)),
        (NIGHT_PERIODS, night_periods(night, cells=cells)),
    ):
        assert tuple(frame.columns) == table.names()
        _, findings = check(table, frame, source=table.name)
        assert findings == ()
        assert not frame.duplicated(list(table.key)).any()


def test_a_single_night_is_told_without_figures(told: Any, no_works: Any) -> None:
    one = pd.date_range("2026-12-21", periods=1, freq="D")
    seven, periods = told(np.array([0.5]), works=no_works, nights=one)
    assert seven["nights_count"].tolist() == [1]
    assert seven["leakage_l_s"].isna().all()
    assert periods["nights_count"].tolist() == [1, 1, 1, 1]
    assert periods["minimum_night_flow_l_s_low"].isna().all()
