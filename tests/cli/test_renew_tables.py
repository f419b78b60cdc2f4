from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pandas as pd

from district.cli import layout
from district.cli.renew_tables import SHOWN, print_backtest, print_renewal, record_line
from tests.render.made_renewal import bare, made, made_backtest


def printed(capsys: Any, plan: Any, *paths: Path) -> str:
    print_renewal(plan, paths)
    return str(capsys.readouterr().out).replace("\u00a0", " ")


def test_findings_first_then_list_materials_years_variants_surveys_caution(capsys: Any) -> None:
    out = printed(capsys, made(), Path("out/renewal.html"), Path("out/renewal/fit_terms.csv"))
    order = (
        "Findings: 1 warning, 1 note.", "Name the pipe that broke.", "Record of breaks, 2006-01-01",
        "- Cast iron breaks most.", "The list of 2026, first 8 of 8 sites", "1 Dock Road",
        "- 1 Dock Road (", "Mains by material", "The next 10 years together",
        "The list with other assumptions", "Leak surveys", "overdue", "The plan rests on",
        "Limited by:", "licensed people", "out/renewal.html", "out/renewal/ (",
    )  # fmt: skip
    places = [out.index(words) for words in order]
    assert places == sorted(places)
    finding = next(line for line in out.splitlines() if "Name the pipe" in line)
    others = [line for line in out.splitlines() if line != finding]
    assert all(len(line) <= layout.WIDTH for line in others)


def test_expected_breaks_are_no_whole_numbers(capsys: Any) -> None:
    out = printed(capsys, made())
    years = out[out.index("The next 10 years") :]
    assert "9.4" in years
    assert "6.1–12.7" in years


def test_a_long_list_shows_its_first(capsys: Any) -> None:
    plan = made()
    long = replace(plan, projects=pd.concat([plan.projects] * 3, ignore_index=True))
    out = printed(capsys, long)
    assert f"first {SHOWN} of 24 sites" in out
    assert out.count("- 1 Dock Road (") == 2


def test_nothing_to_list_is_said(capsys: Any) -> None:
    out = printed(capsys, bare())
    assert "Nothing wrong was found." in out
    assert out.count("none") == 3
    assert "breaks are taken not to grow with age" in record_line(bare())
    assert "0 breaks" in record_line(bare())


def test_a_test_of_the_list_prints_rankings_tenths_and_sentences_alone(capsys: Any) -> None:
    print_backtest(made_backtest())
    out = capsys.readouterr().out.replace("\u00a0", " ")
    for words in ("rates of this plan", "at random", "0.63–0.77", "5–21", "2–11", "- Made at the"):
        assert words in out
    assert all(len(line) <= layout.WIDTH for line in out.splitlines())
    assert "licensed" not in out
