from __future__ import annotations

from datetime import date
from typing import Any

import pandas as pd
import pytest

from district.ledger.leaks import ledger_of
from district.ledger.on_record import where_of
from district.ledger.verify import verifications
from district.ledger.years import ledger_years, summed, water_by_year
from district.schema.ledger_tables import LEDGER, LEDGER_GROUPS, LEDGER_YEARS
from tests.ledger.made import (
    around,
    breaks,
    check,
    checks,
    event,
    events,
    network,
    of,
    repair,
    repairs,
    surveys,
)

LAST = date(2026, 3, 31)


def leak(name: str = "E-A-1", **more: Any) -> dict[str, Any]:
    return {"leak_id": name, "event_id": name, "cell_id": "A", "kind": "main", **more}


def test_a_leak_across_new_year_is_divided_by_its_nights() -> None:
    """An unreported burst of a main runs 50 days at 6 m3/h and 50 m: 7200 m3 (Lambert, Brown,
    Takizawa and Weimer 1999, J Water SRT - Aqua 48(6), components of the unavoidable losses, from
    memory). 20 of its nights are in the old year."""
    flow_l_s = 6.0 / 3.6
    known = events(event(start="2025-12-12", end="2026-01-30", **around("size_l_s", flow_l_s, 0)))
    table = of(LEDGER, leak(**around("volume_m3", 6.0 * 24 * 50, 720.0)))
    water = water_by_year(table, known, last=LAST).set_index("year")
    assert water.loc[2025, "volume_m3"] == pytest.approx(20 * 144.0)
    assert water.loc[2026, "volume_m3"] == pytest.approx(30 * 144.0)
    assert water["volume_m3"].sum() == pytest.approx(7200.0)
    assert water["volume_m3_high"].sum() == pytest.approx(7920.0)


def test_growth_is_allowed_for() -> None:
    """By hand: 0.01 L/s more each night to 0.2 L/s on the twentieth, ten nights in each year; flows
    sum to 0.01 (1 + ... + 10) = 0.55 and 0.01 (11 + ... + 20) = 1.55."""
    grown = event(
        start="2025-12-22", end="2026-01-10",
        **around("size_l_s", 0.2, 0.0), **around("growth_l_s_d", 0.01, 0.0),
    )  # fmt: skip
    table = of(LEDGER, leak(**around("volume_m3", 210.0, 0.0)))
    water = water_by_year(table, events(grown), last=LAST)
    assert water["volume_m3"].tolist() == pytest.approx([55.0, 155.0])


def test_limits_add_in_a_zone_and_by_squares_between_zones() -> None:
    rows = [leak(**around("volume_m3", 100.0, 30.0)), leak(**around("volume_m3", 100.0, 10.0))]
    rows += [leak(cell_id="B", **around("volume_m3", 100.0, 30.0))]
    found = summed(of(LEDGER, *rows))
    assert found["volume_m3"] == 300.0
    assert found["volume_m3_high"] == pytest.approx(300.0 + (40.0**2 + 30.0**2) ** 0.5)
    assert found["volume_m3_low"] == pytest.approx(250.0)


def whole() -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    done = repairs(
        repair(leak_kind="joint", repair_currency=640.0),
        repair("P2", "2025-09-01"),
        repair("P1", "2026-02-01", repair_currency=100.0),
    )
    told = checks(
        check(),
        check("partly", "P2", "2025-09-01", event_id="E-A-2", drop=0.2),
        check("not_seen", "P1", "2026-02-01", event_id=""),
    )
    known = events(
        event(end="2025-05-14"), event("E-A-2", "2025-08-01"), event("E-A-3", "2025-12-30"),
    )  # fmt: skip
    seen = surveys(("2025-04-16", "P1", True))
    past = breaks(("2023-04-01", "P2"))
    table = ledger_of(done, told, known, seen, past, where=where_of(network()))
    return table, verifications(done, told, known), known


def test_a_year_counts_what_was_found_mended_and_verified_in_it() -> None:
    table, told, known = whole()
    years, groups = ledger_years(table, told, known, first=date(2025, 1, 1), last=LAST)
    assert tuple(years.columns) == LEDGER_YEARS.names()
    assert tuple(groups.columns) == LEDGER_GROUPS.names()
    assert years["year"].tolist() == [2026, 2025, 2023]
    by_year = years.set_index("year")
    row = by_year.loc[2025]
    assert (row["found_count"], row["repaired_count"], row["repairs_count"]) == (2, 2, 2)
    assert (row["verified_count"], row["partly_count"]) == (1, 1)
    assert (row["repair_currency"], row["costed_count"]) == (640.0, 1)
    # Of two leaks mended the start is known, of one the day it was found.
    assert (row["timed_count"], row["located_count"]) == (2, 1)
    assert (row["location_d"], row["repair_d"]) == (10.0, 28.0)
    assert row["running_count"] == 2  # E-A-3, and what is left of E-A-2
    assert by_year.loc[2026, "not_seen_count"] == 1
    assert by_year.loc[2026, "first"] == pd.Timestamp("2026-01-01")
    assert by_year.loc[2023, "found_count"] == 1
    assert pd.isna(by_year.loc[2023, "volume_m3"])
    assert pd.isna(by_year.loc[2023, "running_count"])


def test_the_groups_of_a_year_sum_to_the_year() -> None:
    table, told, known = whole()
    years, groups = ledger_years(table, told, known, first=date(2025, 1, 1), last=LAST)
    for by in ("kind", "zone"):
        own = groups[(groups["by"] == by) & (groups["year"] == 2025)]
        row = years[years["year"] == 2025].iloc[0]
        assert own["found_count"].sum() == row["found_count"]
        assert own["repaired_count"].sum() == row["repaired_count"]
        assert own["volume_m3"].sum() == pytest.approx(row["volume_m3"])
        assert own["repair_currency"].sum() == row["repair_currency"]


def test_of_nothing_there_are_no_years() -> None:
    years, groups = ledger_years(of(LEDGER), whole()[1], events(), first=None, last=None)
    assert (len(years), len(groups)) == (0, 0)
