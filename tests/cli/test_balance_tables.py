from __future__ import annotations

from typing import Any

import pandas as pd
import pytest

from district.cli import balance_tables, layout
from district.schema import Table, empty
from district.schema.annual_tables import ECONOMICS
from district.schema.outputs import ANNUAL
from district.schema.reconciled import METER_CHECKS, WITHOUT_METER

NAMES = pd.Series({"A": "Upper", "B": "[b]Lower"})


def of(table: Table, *rows: dict[str, Any]) -> pd.DataFrame:
    return pd.DataFrame([*rows], columns=[*table.names()]) if rows else empty(table)


def est(name: str, value: float, low: float, high: float) -> dict[str, float]:
    return {name: value, f"{name}_low": low, f"{name}_high": high}


def lines(capsys: pytest.CaptureFixture[str], table: Any) -> list[list[str]]:
    layout.show(table)
    return [line.split() for line in capsys.readouterr().out.splitlines() if line.strip()]


def test_a_meter_that_is_off_stands_with_both_its_zones(
    capsys: pytest.CaptureFixture[str],
) -> None:
    off = {
        "meter_id": "M1", "verdict": "off", "since": pd.Timestamp("2025-08-15"),
        "since_low": pd.Timestamp("2025-08-12"), "since_high": pd.Timestamp("2025-08-16"),
        **est("off_share", -0.17, -0.21, -0.13),
    }  # fmt: skip
    checks = of(METER_CHECKS, off, {"meter_id": "M2", "verdict": "agrees"})
    leakage = [
        {
            "meter_id": "M1", "cell_id": cell, "nights_count": 90,
            **est("leakage_l_s", 1.42, 1.35, 1.5),
            **est("corrected_leakage_l_s", 1.48, 1.41, 1.56),
        }
        for cell in ("A", "B")
    ]  # fmt: skip
    said = lines(capsys, balance_tables.meters_table(checks, of(WITHOUT_METER, *leakage), NAMES))
    assert ["M1", "Upper", "2025-08-15", "-17", "1.42", "1.48"] in said
    assert ["2025-08-12", "to", "-21", "to", "-13", "1.35–1.50", "1.41–1.56"] in said
    assert ["[b]Lower", "1.42", "1.48"] in said
    assert not any("M2" in words for words in said)


def test_a_meter_off_without_zones_is_not_lost(capsys: pytest.CaptureFixture[str]) -> None:
    off = {"meter_id": "M1", "verdict": "off", **est("off_share", 0.1, 0.05, 0.15)}
    table = balance_tables.meters_table(of(METER_CHECKS, off), empty(WITHOUT_METER), NAMES)
    assert ["M1", "-", "-", "10", "-", "-"] in lines(capsys, table)


def test_the_year_stands_in_water_and_money(capsys: pytest.CaptureFixture[str]) -> None:
    line = {
        "cell_id": "district", "component": "real losses", "level": 2, "rests_on": "difference",
        **est("volume_m3", 63_000, 59_000, 67_000),
        **est("value_currency", 50_300, 47_000, 53_700),
    }  # fmt: skip
    elsewhere = {**line, "cell_id": "A", "component": "of a zone"}
    table = balance_tables.annual_table(of(ANNUAL, line, elsewhere), currency="GBP")
    said = lines(capsys, table)
    assert ["Component", "m³", "limits", "GBP", "limits", "Rests", "on"] in said
    assert " ".join(said[-1]) == "real losses 63 000 59 000–67 000 50 300 47 000–53 700 difference"
    assert table.row_count == 1


def test_an_interval_without_an_upper_limit_says_so(capsys: pytest.CaptureFixture[str]) -> None:
    nan = float("nan")
    known, unknown = (
        {"cell_id": cell, "rank": 1, **est("survey_interval_months", *months)}
        for cell, months in (("C", (21.37, 4.9, nan)), ("D", (nan, 2.04, nan)))
    )
    table = of(ECONOMICS, known, unknown)
    said = lines(capsys, balance_tables.economics_table(table, NAMES, currency="GBP"))
    assert [words[3] for words in said if words[0] in "CD"] == ["21", "-"]
    assert ["4.9", "or", "more"] in said
    assert ["2", "or", "more"] in said


def test_zones_stand_in_the_order_in_which_a_search_pays(
    capsys: pytest.CaptureFixture[str],
) -> None:
    first, unsure, never, unknown = (
        {
            "cell_id": cell, "rank": rank, "survey_currency": 730.0,
            **est("return_index", index, low, index), **est("payback_d", *days),
            **est("excess_day_currency", 76, 58, 84),
        }
        for cell, rank, index, low, days in (
            ("A", 1, 33.0, 30.0, (9.6, 8.7, 12.5)),
            ("B", 2, 4.0, -1.0, (40.0, 20.0, float("nan"))),
            ("C", 3, -1.0, -2.0, (261.0, 50.0, float("nan"))),
            ("D", float("nan"), float("nan"), float("nan"), (float("nan"),) * 3),
        )
    )  # fmt: skip
    whole = {**first, "cell_id": "district", "rank": float("nan")}
    table = of(ECONOMICS, whole, unknown, never, unsure, first)
    said = lines(capsys, balance_tables.economics_table(table, NAMES, currency="GBP"))
    assert [words[0] for words in said if "730" in words] == ["Upper", "[b]Lower", "C", "D"]
    assert any(words[-1] == "8.7–12.5" for words in said)
    assert any(words[-3:] == ["20", "or", "more"] for words in said)
    assert any(words[0] == "C" and words[-2:] == ["not", "yet"] for words in said)
    assert any(words[0] == "D" and words[-1] == "-" for words in said)
