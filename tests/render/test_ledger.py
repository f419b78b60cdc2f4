"""The page of a year, with awkward names, and the tables beside it."""

from __future__ import annotations

import csv
import io
from datetime import date
from pathlib import Path
from typing import Any

import pandas as pd

from district.render.ledger import (
    GROUPS,
    LEAKS,
    kind_words,
    leaks_of,
    ledger_page,
    place_words,
    write_ledger,
    year_lines,
)
from district.results import Basis, Ledger
from district.schema.columns import Table
from district.schema.ledger_tables import (
    LEDGER,
    LEDGER_GROUPS,
    LEDGER_KINDS,
    LEDGER_YEARS,
    VERIFICATIONS,
)
from district.schema.typed import typed

SCRIPT = "<script>alert(1)</script>"


def of(table: Table, *rows: dict[str, Any]) -> pd.DataFrame:
    return typed(pd.DataFrame([*rows], columns=[*table.names()]), table)


def leak(n: int, **more: Any) -> dict[str, Any]:
    day = pd.Timestamp("2025-05-14")
    return {
        "leak_id": f"=L{n}", "place_id": f"P{n}", "cell_id": "A", "kind": "joint", "found": day,
        "repaired": day, "state": "repaired", "verdict": "verified", "run_d": 12.0,
        "volume_m3": 100.0 + n, "volume_m3_low": 90.0, "volume_m3_high": 120.0 + n, **more,
    }  # fmt: skip


def made(count: int = 2) -> Ledger:
    running = {"found": pd.NaT, "repaired": pd.NaT, "started": pd.Timestamp("2024-12-01")}
    leaks = of(
        LEDGER,
        *(leak(n) for n in range(count)),
        leak(90, **running, state="running", verdict="", run_d=60.0, volume_m3=999.0),
        leak(91, **running, state="ended", verdict="", run_d=20.0, volume_m3=998.0),
        leak(92, found=pd.Timestamp("2024-02-01"), repaired=pd.NaT, state="recorded"),
    )
    year = {
        "year": 2025, "first": pd.Timestamp("2025-01-01"), "last": pd.Timestamp("2025-12-31"),
        "found_count": 2, "repaired_count": 2, "running_count": 1, "timed_count": 2,
        "located_count": 1, "run_d": 12.5, "repair_currency": 640.0, "costed_count": 1,
        "repairs_count": 2, "verified_count": 2, "volume_m3": 1201.0, "volume_m3_low": 1100.0,
        "volume_m3_high": 1310.0,
    }  # fmt: skip
    groups = [
        {"year": 2025, "by": by, "group": f"{by} {n}", "found_count": 1, "repaired_count": 1}
        for by in ("kind", "zone")
        for n in range(count)
    ]
    return Ledger(
        f"Ž & {SCRIPT}",
        "EUR",
        {"A": f"Upper {SCRIPT}"},
        verifications=of(VERIFICATIONS),
        leaks=leaks,
        years=of(LEDGER_YEARS, year, {"year": 2024, "found_count": 1, "repaired_count": 0}),
        groups=of(LEDGER_GROUPS, *groups),
        basis=Basis(date(2025, 1, 1), date(2025, 12, 31), assumptions=(f"Rests {SCRIPT}.",)),
    )


def test_a_year_beside_the_one_before() -> None:
    found = made()
    said = {label: (now, then) for label, now, then in year_lines(found.years, 2025, "EUR")}
    assert said["Leaks found"] == ("2", "1")
    assert said["Water lost"] == ("1\xa0200\xa0m³ (1\xa0100 to 1\xa0310)", "-")
    assert said["Cost of repairs, as stated"] == ("EUR\xa0640 (of 1 of 2)", "-")
    assert said["Median days run, of those mended"] == ("12.5 (of 2)", "-")
    assert said["Median days until found"] == ("-", "-")
    alone = year_lines(found.years, 2024, "EUR")
    assert {then for _, _, then in alone} == {"-"}
    bare = found.years.assign(repair_currency=float("nan"))
    assert {a: b for a, b, _ in year_lines(bare, 2025, "EUR")}[
        "Cost of repairs, as stated"
    ] == "not stated"


def test_a_leak_is_of_the_years_it_was_found_mended_or_ran_in() -> None:
    found = made()
    assert leaks_of(found, 2025)["leak_id"].tolist() == ["=L90", "=L1", "=L0"]
    assert leaks_of(found, 2024)["leak_id"].tolist() == ["=L92"]


def test_the_page_runs_nothing_and_loads_nothing() -> None:
    page = ledger_page(made(), 2025)
    assert SCRIPT not in page
    assert "&lt;script&gt;" in page
    assert "http" not in page.replace("http-equiv", "")
    assert "Before anyone acts" in page
    assert "licensed people" in page
    assert page == ledger_page(made(), 2025)


def test_what_does_not_fit_on_the_page_is_counted() -> None:
    page = ledger_page(made(30), 2025)
    assert page.count("P2") >= 1
    assert f"{31 - LEAKS} more leaks" in page
    assert f"{2 * (30 - GROUPS)} more rows" in page


def test_a_year_without_readings_says_so() -> None:
    assert "No readings of that year" in ledger_page(made(), 2024)


def test_places_and_kinds_are_called_as_people_do() -> None:
    assert place_words({"place_id": "P1", "cell_id": "A"}, {"A": "Upper"}) == "P1, Upper"
    assert place_words({"place_id": "A", "cell_id": "A"}, {"A": "Upper"}) == "Upper"
    assert place_words({"place_id": "B1", "cell_id": ""}, {"B1": "Hall"}) == "Hall"
    assert len({kind_words(kind) for kind in LEDGER_KINDS}) == len(LEDGER_KINDS)


def test_the_tables_are_plain_csv_that_no_spreadsheet_runs(tmp_path: Path) -> None:
    paths = write_ledger(made(), 2025, tmp_path / "out")
    assert [p.name for p in paths] == [
        "ledger.html", "ledger.csv", "ledger_years.csv", "ledger_groups.csv", "verifications.csv",
    ]  # fmt: skip
    # RFC 4180: lines end with CRLF, as many fields in each.
    text = paths[1].read_bytes().decode("utf-8")
    assert text.count("\r\n") == text.count("\n") == 6
    rows = list(csv.reader(io.StringIO(text)))
    assert {len(row) for row in rows} == {len(LEDGER.names())}
    assert rows[1][0] == "'=L0"
