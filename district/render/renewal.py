"""The plan of renewal as a page to argue over and print, a map, a workbook, layers and tables."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from functools import cache, partial
from pathlib import Path
from typing import Any

import jinja2
import pandas as pd

from district.files import whole_folder, write_text
from district.render import renewal_charts as charts
from district.render.drawn import as_image
from district.render.findings import gathered
from district.render.renewal_layers import write_renewal_layers
from district.render.renewal_map import write_renewal_map
from district.render.renewal_tables import write_renewal_book, write_renewal_tables
from district.render.renewal_words import (
    NOT_TESTED,
    answers,
    form_words,
    group_words,
    materials_words,
    rests_on,
    term_words,
    together,
    zones_words,
)
from district.render.templates import environment, finished, row_dicts, styles
from district.renewal_results import Renewal
from district.schema.renewal_tables import RANKING_WORDS, RENEWAL_CAUTION, SCENARIO_WORDS
from district.words import EMPTY, missing, natural_key, percent, period, rounded

WORKS = 60
"""Works on the page, the best return first; renewal_projects.csv has all."""
STREETS = 25
"""Streets on the page, most breaks first; renewal_groups.csv has all."""
TABLES = "renewal"
"""Folder of the CSV tables."""


def write_renewal(plan: Renewal, out: Path) -> tuple[Path, ...]:
    """Write page, map, workbook, layers and tables into `out`; other files there stay.

    renewal.html, renewal_map.html, renewal.xlsx, renewal.gpkg, renewal/*.csv; each the same bytes
    from the same plan. Nothing reaches `out` before all of it is drawn. Returns the paths in that
    order. Raises `OutputError` where it cannot be written.
    """
    with whole_folder(out) as draft:
        page = draft / "renewal.html"
        write_text(page, renewal_page(plan))
        written = (
            page,
            write_renewal_map(plan, draft / "renewal_map.html"),
            write_renewal_book(plan, draft / "renewal.xlsx"),
            write_renewal_layers(plan, draft / "renewal.gpkg"),
            *write_renewal_tables(plan, draft / TABLES),
        )
    return tuple(out / path.relative_to(draft) for path in written)


def renewal_page(plan: Renewal) -> str:
    """The page as text of HTML that needs neither network nor script."""
    style = styles("report.css", "renewal.css")
    return finished(_template().render(style=style, **_context(plan)))


@cache
def _template() -> jinja2.Template:
    return environment().get_template("renewal.html")


def _context(plan: Renewal) -> dict[str, Any]:
    rates, tested, based = plan.rates, plan.backtest, rests_on(plan)
    streets = plan.groups[plan.groups["group"] == "street"]
    findings = gathered(plan.findings)
    return {
        "plan": plan,
        "tables": TABLES,
        "record": period(based.first, based.last) if based.first else "",
        "answers": answers(plan),
        "groups": [g for g in findings if g.severity != "note"],
        "notes": [g for g in findings if g.severity == "note"],
        "counts": Counter(f.severity for f in plan.findings),
        "works": row_dicts(plan.projects.head(WORKS)),
        "works_left": max(len(plan.projects) - WORKS, 0),
        "tested": tested,
        "not_tested": NOT_TESTED,
        "rankings": [] if tested is None else row_dicts(tested.table),
        "captured": _captured(plan),
        "tenths": [] if tested is None else row_dicts(tested.deciles),
        "tenths_chart": _tenths(plan),
        "years": _by_year(plan.years),
        "together": together(plan.years),
        "breaks_chart": _of_years(plan.years, "breaks_count", "breaks of mains"),
        "leakage_chart": _of_years(plan.years, "leakage_m3", "m³ lost"),
        "variants": row_dicts(plan.variants),
        "terms": row_dicts(rates.terms),
        "form": form_words(rates.growth),
        "streets": row_dicts(_most_breaks(streets).head(STREETS)),
        "streets_left": max(len(streets) - STREETS, 0),
        "by_material": row_dicts(_most_breaks(plan.groups[plan.groups["group"] == "material"])),
        "surveys": row_dicts(plan.survey_year),
        "based": based,
        "ranking_words": RANKING_WORDS,
        "scenario_words": SCENARIO_WORDS,
        "material_words": materials_words,
        "zone_words": partial(zones_words, zones=plan.zones),
        "term_words": partial(term_words, zones=plan.zones),
        "group_words": group_words,
        "bare": _bare,
        "percent": lambda share: EMPTY if missing(share) else percent(share, decimals=0)[:-2],
        "caution": RENEWAL_CAUTION,
    }


def _bare(row: Mapping[str, Any], name: str) -> str:
    """A figure without limits of its own, its unit in the heading."""
    return rounded(row[name], name=name)[0]


def _captured(plan: Renewal) -> tuple[str, str] | None:
    tested = plan.backtest
    if tested is None or tested.curve.empty:
        return None
    return as_image(charts.captured_chart(tested.curve)), charts.captured_words(tested.table)


def _tenths(plan: Renewal) -> tuple[str, str] | None:
    if plan.backtest is None:
        return None
    return _drawn(charts.tenths_chart, charts.tenths_words, plan.backtest.deciles)


def _drawn(chart: Any, said: Any, rows: pd.DataFrame) -> tuple[str, str] | None:
    return None if rows.empty else (as_image(chart(rows)), said(rows))


def _of_years(years: pd.DataFrame, name: str, label: str) -> tuple[str, str] | None:
    return _drawn(
        lambda rows: charts.years_chart(rows, name, label),
        lambda rows: charts.years_words(rows, name),
        years,
    )


def _by_year(years: pd.DataFrame) -> list[tuple[int, dict[str, dict[str, Any]]]]:
    """Each year with its rows by scenario, in order."""
    told: dict[int, dict[str, dict[str, Any]]] = {}
    for row in row_dicts(years.sort_values("year", kind="stable")):
        told.setdefault(int(row["year"]), {})[str(row["scenario"])] = row
    return list(told.items())


def _most_breaks(groups: pd.DataFrame) -> pd.DataFrame:
    named = groups.sort_values("name", key=lambda names: names.map(natural_key), kind="stable")
    return named.sort_values("breaks_per_year", ascending=False, kind="stable")
