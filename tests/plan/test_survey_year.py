from __future__ import annotations

from datetime import date
from typing import Any

import numpy as np
import pandas as pd
import pytest
from shapely.geometry import LineString, Point, box

from district.balance import survey_interval_months
from district.network import Network, build_network
from district.plan.survey_year import last_surveyed, survey_year, surveys_due, year_said
from district.results import Inputs
from district.schema import check
from district.schema.annual_tables import ECONOMICS
from district.schema.field_records import SURVEYS
from district.schema.renewal_tables import SURVEY_YEAR
from district.settings import Costs, Settings, Survey
from tests.plan.cost_scene import TABLES, table_of

FIRST = date(2026, 1, 1)
ZONES = ("A", "B", "C", "D")


def _network() -> Network:
    """Four zones of two mains each, 100 and 300 m, the longer of plastic, each fed by a meter."""
    pipes, meters, zones = [], [], []
    for n, zone in enumerate(ZONES):
        y = 1000.0 * n
        pipes.append(
            {"pipe_id": f"feed{zone}", "geometry": LineString([(-60 * (n + 1), 0), (0, y)])}
        )
        pipes[-1]["status"] = "in_use"
        for pipe, west, east, material in (
            (f"{zone}1", 0, 100, "cast_iron"),
            (f"{zone}2", 100, 400, "pvc"),
        ):
            line = LineString([(west, y), (east, y)])
            pipes.append({"pipe_id": pipe, "geometry": line, "material": material})
        meters.append(
            {"meter_id": f"M{zone}", "geometry": Point(0, y), "role": "inlet", "downstream": zone}
        )
        zones.append({"zone_id": zone, "geometry": box(-1, y - 50, 500, y + 50)})
    layer = table_of("pipes", pipes)
    layer = layer.assign(length_m=layer.geometry.length)
    given = {"meters": meters, "zones": zones,
             "sources": [{"source_id": "S", "geometry": Point(-60, 0)}]}  # fmt: skip
    tables = {t: table_of(t, given.get(t, [])) for t in TABLES if t != "pipes"}
    return build_network(
        Inputs(pipes=layer, **tables, defaults=pd.DataFrame()), settings=Settings()
    )


NETWORK = _network()


def economics(**zones: dict[str, Any]) -> pd.DataFrame:
    rows = []
    for rank, zone in enumerate(ZONES, start=1):
        row: dict[str, Any] = {
            "cell_id": zone,
            "rank": float(rank),
            "statement": f"Statement {zone}.",
            "rise_m3_d_year": 10.0,
            "rise_note": "",
            "mains_km": 0.4,
            "survey_currency": 80.0,
            "survey_interval_months": 12.0,
            "survey_interval_months_low": 6.0,
            "survey_interval_months_high": 24.0,
            "return_index": 2.0,
            "return_index_low": 1.0,
        }
        rows.append(row | zones.get(zone, {}))
    rows.append({"cell_id": "district", "survey_interval_months": 1.0})
    return pd.DataFrame(rows).reindex(columns=list(ECONOMICS.names()))


def surveys(*rows: tuple[str, str] | tuple[str, str, float, float]) -> pd.DataFrame:
    frame = pd.DataFrame(
        [dict(zip(("date", "pipe_id", "from_m", "to_m"), row, strict=False)) for row in rows],
        columns=list(SURVEYS.names()),
    )
    tidy, findings = check(SURVEYS, frame, source="surveys")
    assert findings == ()
    return tidy


NEVER: dict[str, Any] = {"survey_interval_months": np.nan, "rise_m3_d_year": -1.0}


def planned(
    economy: pd.DataFrame, made: pd.DataFrame | None = None, **settings: Any
) -> pd.DataFrame:
    found = survey_year(
        NETWORK,
        economy,
        surveys() if made is None else made,
        settings=Settings(**settings),
        first=FIRST,
    ).table
    assert check(SURVEY_YEAR, found, source="survey_year")[1] == ()
    return found.set_index("cell_id")


def test_zones_never_surveyed_are_due_now_the_best_return_first() -> None:
    found = planned(economics(A={"rank": 4.0}, D={"rank": 1.0}))
    assert found.index.tolist() == ["D", "B", "C", "A"]
    assert (found["due"] == pd.Timestamp(FIRST)).all()
    assert (found["surveys_count"] > 0).all()
    assert found["last_surveyed"].isna().all()
    assert found.at["D", "said"] == (
        "Due now by the calendar: most of it was never surveyed; the interval that costs least is "
        "12\u00a0months (6 to 24). Statement D."
    )


def test_due_one_interval_after_most_of_it_was_surveyed() -> None:
    made = surveys(("2025-03-01", "A1"), ("2025-06-01", "A2"), ("2025-08-01", "B1"))
    found = planned(economics(), made)
    # A2 is three quarters of A; B1 only a quarter of B.
    assert found.at["A", "last_surveyed"] == pd.Timestamp("2025-06-01")
    assert found.at["A", "due"] == pd.Timestamp("2026-06-01")
    assert found.at["A", "surveyed_share"] == pytest.approx(1.0)
    assert pd.isna(found.at["B", "last_surveyed"])
    assert found.at["B", "surveyed_share"] == pytest.approx(0.25)
    assert found.index.tolist() == ["B", "C", "D", "A"]
    assert found.at["A", "said"] == (
        "Due on 2026-06-01: most of it was last surveyed on 2025-06-01, 100 % of it within the "
        "last interval; the interval that costs least is 12\u00a0months (6 to 24)."
    )


def test_overdue_and_beyond_the_year() -> None:
    made = surveys(("2023-03-01", "A2"), ("2025-12-01", "B2"))
    found = planned(economics(B={"survey_interval_months": 30.0}), made)
    assert found.at["A", "said"].startswith("Due since 2024-02-29 by the calendar: most of it was")
    assert found.at["A", "surveys_count"] > 0
    assert found.at["B", "surveys_count"] == 0
    assert found.index.tolist() == ["A", "C", "D", "B"]


def test_stretches_of_a_day_make_a_survey_and_later_days_are_not_yet_made() -> None:
    made = surveys(
        ("2025-06-01", "A2", 0.0, 100.0),
        ("2025-06-01", "A2", 100.0, 200.0),
        ("2025-07-01", "B2", 0.0, 100.0),
        ("2026-05-01", "C2"),
        ("2025-07-01", "NONE"),
    )
    found = planned(economics(), made)
    assert found.at["A", "last_surveyed"] == pd.Timestamp("2025-06-01")
    assert found.loc[["B", "C"], "last_surveyed"].isna().all()


def test_without_a_rate_of_rise_there_is_no_date_unless_it_surely_pays() -> None:
    unknown = NEVER | {"rise_m3_d_year": np.nan, "rise_note": "not known: 3 weeks with nights"}
    poor = {"return_index": 3.0, "return_index_low": -0.5}
    found = planned(
        economics(A=NEVER, B=NEVER | poor, C=unknown | poor), surveys(("2024-01-01", "D2"))
    )
    assert found.index.tolist() == ["A", "D", "B", "C"]
    assert found.at["A", "said"] == (
        "Due now, once: most of it was never surveyed. Statement A. When again is not told: its "
        "leakage does not rise on record, so that no interval pays."
    )
    assert found.at["B", "said"] == (
        "No date: most of it was never surveyed, and its leakage does not rise on record, so that "
        "no interval pays. Statement B."
    )
    assert "how fast its leakage rises is not known: 3 weeks with nights. " in found.at["C", "said"]
    assert found.loc[["B", "C"], "due"].isna().all()
    assert (found["surveys_count"] > 0).tolist() == [True, True, False, False]


def test_what_was_surveyed_in_the_last_year_is_not_due_without_an_interval() -> None:
    found = planned(economics(A=NEVER), surveys(("2025-06-01", "A2")))
    assert pd.isna(found.at["A", "due"])


def test_no_price_of_water_or_of_a_survey_gives_no_date() -> None:
    none = {"survey_interval_months": np.nan, "return_index": np.nan, "return_index_low": np.nan}
    free = planned(economics(A=none), costs=Costs(water_currency_m3=0.0))
    assert "water costs nothing in the settings" in free.at["A", "said"]
    unpriced = planned(economics(A=none | {"survey_currency": 0.0}))
    assert "a survey here has no cost" in unpriced.at["A", "said"]


def test_hours_by_pace_and_listening() -> None:
    walk = Survey(search_km_h=2.0, listen_min=3.0, listen_apart_m=50.0, listen_apart_plastic_m=10.0)
    found = planned(economics(), survey=walk)
    assert found.at["A", "work_h"] == pytest.approx(0.4 / 2 + (100 / 50 + 300 / 10) * 3 / 60)
    assert found.at["A", "survey_currency"] == 80.0


def test_an_interval_of_ages_is_no_error() -> None:
    made = surveys(("2025-06-01", "A2"))
    found = planned(economics(A={"survey_interval_months": 1e6}), made)
    assert found.at["A", "due"].year == 2125


def test_an_interval_is_told_with_the_digits_its_limits_support() -> None:
    wide = {"survey_interval_months_low": 1.2, "survey_interval_months_high": 9.4}
    found = planned(economics(A={"survey_interval_months": 2.62, **wide}))
    assert "costs least is 3\u00a0months (1 to 9)." in found.at["A", "said"]


def test_the_interval_keeps_the_published_optimum() -> None:
    # Lambert & Lalonde 2005 (from memory), regression values CI 10,000, CV 0.10, RR 100: 28.09
    # months, here 855 days after the last survey.
    months = survey_interval_months(10_000.0, water_currency_m3=0.1, rise_m3_d_year=100.0)
    found = planned(
        economics(A={"survey_interval_months": float(months)}), surveys(("2025-06-01", "A2"))
    )
    assert (found.at["A", "due"] - found.at["A", "last_surveyed"]).days == 855


def test_the_median_of_the_last_surveys() -> None:
    days = pd.to_datetime(pd.Series(["2025-01-01", "2025-05-01", None, "2024-01-01"]))
    assert last_surveyed(days, pd.Series([2.0, 2.0, 1.0, 1.0])) == pd.Timestamp("2025-01-01")
    assert last_surveyed(days, pd.Series([1.0, 1.0, 4.0, 1.0])) is None
    assert last_surveyed(days[:0], pd.Series([], dtype=float)) is None


def test_the_order_of_rows_changes_nothing_and_nothing_is_written_to() -> None:
    economy = economics(A=NEVER, C={"rank": 1.0})
    made = surveys(("2025-03-01", "A1"), ("2025-06-01", "B2"), ("2024-06-01", "B2"))
    before = (economy.copy(), made.copy(), NETWORK.pipes.copy())
    one = planned(economy, made)
    pd.testing.assert_frame_equal(one, planned(economy.iloc[::-1], made.iloc[::-1]))
    assert economy.equals(before[0])
    assert made.equals(before[1])
    assert NETWORK.pipes.equals(before[2])


def test_no_zones_no_rows() -> None:
    assert planned(economics().iloc[:0]).empty


@pytest.mark.parametrize(
    ("due", "days", "count"),
    [
        ("2026-01-01", 100, 4),  # 1 January, 11 April, 20 July, 28 October
        ("2025-06-01", 100, 4),  # overdue: at once, then by the interval
        ("2026-06-01", 400, 1),
        ("2027-01-01", 100, 0),
        ("2026-01-01", 365, 1),
        ("2026-01-01", 0, 1),  # once
        (None, 100, 0),
    ],
)
def test_surveys_that_fall_due_in_a_year(due: str | None, days: int, count: int) -> None:
    when = None if due is None else pd.Timestamp(due)
    start = pd.Timestamp("2026-01-01")
    assert surveys_due(when, pd.Timedelta(days=days), start=start) == count


def test_the_year_in_a_sentence() -> None:
    table = pd.DataFrame(
        {
            "surveys_count": [3, 0, 1],
            "work_h": [10.0, 99.0, 5.2],
            "survey_currency": [500.0, 9.0, np.nan],
        }
    )
    assert year_said(table, currency="EUR").replace("\u00a0", " ") == (
        "Leak surveys of the year, by the intervals that cost least: 4 surveys of 2 zones, some 35 "
        "hours on foot and EUR 1 500."
    )
    assert year_said(table[1:2], currency="EUR") == ""
