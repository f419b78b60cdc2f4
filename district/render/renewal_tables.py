"""The tables of the plan of renewal, as CSV and as a workbook."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from district.files import write_text
from district.render.book import Style, fill_sheet, live_sums, said_sheet, whole_book
from district.render.findings import as_table
from district.render.renewal_words import rests_on
from district.render.tables import as_csv
from district.renewal_results import Renewal
from district.schema import renewal_tables as tables
from district.schema.columns import Table, empty
from district.schema.outputs import FINDINGS
from district.words import figure, period

SHEETS: dict[str, str] = {
    tables.RENEWAL_PROJECTS.name: "list",
    tables.RENEWAL_PIPES.name: "pipes",
    tables.RENEWAL_GROUPS.name: "streets and materials",
    tables.RENEWAL_VARIANTS.name: "variants",
    tables.RENEWAL_YEARS.name: "years to come",
    tables.FIT_TERMS.name: "what makes pipes break",
    tables.PIPE_HISTORY.name: "record by pipe",
    tables.BACKTEST.name: "list tested",
    tables.BACKTEST_CURVE.name: "captured breaks",
    tables.DECILES.name: "tenths",
    tables.SURVEY_YEAR.name: "surveys",
    FINDINGS.name: "findings",
}
"""Table -> name of its sheet, in the order of the sheets."""
_SUMMED = ("length_m", "cost_currency", "benefit_currency", "breaks_per_year")


def renewal_frames(plan: Renewal) -> dict[str, tuple[Table, pd.DataFrame]]:
    """Every table of RENEWAL by name, and the findings, with its rows."""
    tested = plan.backtest
    frames = {
        tables.RENEWAL_PROJECTS.name: plan.projects,
        tables.RENEWAL_PIPES.name: plan.pipes,
        tables.RENEWAL_GROUPS.name: plan.groups,
        tables.RENEWAL_VARIANTS.name: plan.variants,
        tables.RENEWAL_YEARS.name: plan.years,
        tables.FIT_TERMS.name: plan.rates.terms,
        tables.PIPE_HISTORY.name: plan.rates.history,
        tables.SURVEY_YEAR.name: plan.survey_year,
    }
    if tested is not None:
        frames |= {
            tables.BACKTEST.name: tested.table,
            tables.BACKTEST_CURVE.name: tested.curve,
            tables.DECILES.name: tested.deciles,
        }
    told = {t.name: (t, frames[t.name] if t.name in frames else empty(t)) for t in tables.RENEWAL}
    return {**told, FINDINGS.name: (FINDINGS, as_table(plan.findings))}


def write_renewal_tables(plan: Renewal, folder: Path) -> tuple[Path, ...]:
    """One CSV a table into `folder`. Raises `OutputError` where it cannot be written."""
    written = []
    for table, frame in renewal_frames(plan).values():
        path = folder / f"{table.name}.csv"
        write_text(path, as_csv(table, frame))
        written.append(path)
    return tuple(written)


def write_renewal_book(plan: Renewal, path: Path) -> Path:
    """Write the workbook to `path`, whole or not at all; the same bytes from the same plan.

    Raises `OutputError` where it cannot be written.
    """
    frames = renewal_frames(plan)
    with whole_book(path, title=f"{plan.name}: renewal", last=rests_on(plan).last) as book:
        style = Style(book, plan.currency)
        for name, sheet in SHEETS.items():
            table, frame = frames[name]
            page = book.add_worksheet(sheet)
            fill_sheet(page, table, frame, style)
            if table is tables.RENEWAL_PROJECTS and len(frame) > 1:
                live_sums(page, table, frame, style, beside="street", summed=_SUMMED, noun="works")
        said_sheet(book.add_worksheet("rests on"), _rests_on(plan), style)
    return path


def _rests_on(plan: Renewal) -> list[tuple[str, str]]:
    money = plan.currency
    based = rests_on(plan)
    tested = () if plan.backtest is None else plan.backtest.said
    return [
        ("District", plan.name),
        ("Record of breaks", period(based.first, based.last)),
        ("Year of the plan", str(plan.year)),
        ("Budget", figure(plan.budget_currency, name="budget_currency", currency=money)),
        *(("First of all", line) for line in plan.said),
        *(("How good the list is", line) for line in tested),
        *(("Assumption", line) for line in based.assumptions),
        *(("Limits the figures", line) for line in based.limits),
        ("Caution", tables.RENEWAL_CAUTION),
    ]
