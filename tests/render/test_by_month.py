from __future__ import annotations

from dataclasses import replace

import pandas as pd

from district.render.by_month import MONTHS, by_month
from district.schema import night_tables
from district.schema.columns import empty


def with_periods(report, table):
    return replace(report, balance=replace(report.balance, night_periods=table))


def test_months_of_every_zone_in_the_order_of_the_zones(report):
    found = by_month(report)
    assert found.months == ("2031-03", "2031-04")
    assert [zone for zone, _ in found.zones] == ["Z1", "Z2"]
    march, april = found.zones[0][1]
    assert (march["leakage_l_s"], april["leakage_l_s"]) == (0.41, 1.51)


def test_a_month_without_nights_is_empty(report):
    assert by_month(report).zones[1][1][0] == {}


def test_only_the_latest_months_are_shown(report):
    row = report.balance.night_periods.iloc[[0]]
    year = pd.concat([row.assign(period=f"20{30 + n // 12}-{n % 12 + 1:02}") for n in range(20)])
    found = by_month(with_periods(report, year))
    assert len(found.months) == MONTHS
    assert found.months[-1] == "2031-08"


def test_nothing_without_months(report):
    found = by_month(with_periods(report, empty(night_tables.NIGHT_PERIODS)))
    assert (found.months, found.zones) == ((), ())
