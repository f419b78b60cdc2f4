"""What `district renew` prints for people: the list, what it rests on, how good it is."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pandas as pd
from rich.table import Table
from rich.text import Text

from district.cli.layout import estimate, or_none, print_lines, show, titled
from district.cli.say import basis, print_counted, print_files
from district.render import (
    form_words,
    group_words,
    rests_on,
    together,
    zones_words,
)
from district.renewal_results import Backtest, Renewal
from district.schema.renewal_tables import RANKING_WORDS, RENEWAL_CAUTION
from district.words import (
    EMPTY,
    day,
    figure,
    missing,
    percent,
    period,
    plural,
    rounded,
    whole,
)

SHOWN = 10


def list_table(plan: Renewal) -> Table:
    """The first works of the list."""
    money = plan.currency
    count = len(plan.projects)
    first = f", first {min(SHOWN, count)} of {plural(count, 'site')}" if count else ""
    table = titled(
        f"The list of {plan.year}{first}",
        "Site",
        "Length\nm",
        "Breaks\nso far",
        "Expected\na year",
        f"Costs\n{money}",
        f"Saves\n{money}",
        "For each\nunit",
        "Kept *\n%",
    )
    for row in plan.projects.head(SHOWN).itertuples():
        table.add_row(
            Text(f"{row.rank:.0f} {row.street}"),
            whole(row.length_m),
            whole(row.breaks_count),
            estimate(row, "breaks_per_year"),
            estimate(row, "cost_currency"),
            estimate(row, "benefit_currency"),
            estimate(row, "benefit_cost_index"),
            _share(row.kept_share),
        )
    return or_none(table)


def material_table(plan: Renewal) -> Table:
    """Mains by material, most breaks first."""
    table = titled(
        "Mains by material, most breaks first",
        "Material",
        "Length\nkm",
        "Mean age\nyears",
        "Breaks on\nrecord",
        "Expected\na year",
        "By 100 km\na year",
        "On the list\nkm",
    )
    rows = plan.groups[plan.groups["group"] == "material"]
    for row in rows.sort_values("breaks_per_year", ascending=False, kind="stable").itertuples():
        table.add_row(
            Text(group_words("material", row.name)),
            _bare(row, "length_km"),
            _bare(row, "mean_age_year"),
            whole(row.breaks_count),
            estimate(row, "breaks_per_year"),
            estimate(row, "breaks_per_100_km_year"),
            _bare(row, "listed_km"),
        )
    return or_none(table)


def years_table(plan: Renewal) -> Table:
    """The years to come taken together, by what is done."""
    count = plan.years["year"].nunique()
    table = titled(
        f"The next {plural(count, 'year')} together (limits added up, which is cautious)",
        "",
        "Renewed\nkm",
        f"Spent\n{plan.currency}",
        "Breaks of\nmains",
        "Water lost\nm³",
        f"Breaks cost\n{plan.currency}",
    )
    for told in together(plan.years):
        row = pd.Series(told)
        table.add_row(
            str(row["scenario"]),
            _bare(row, "renewed_km"),
            _bare(row, "spent_currency"),
            estimate(row, "breaks_count", like="breaks"),
            estimate(row, "leakage_m3"),
            estimate(row, "breaks_currency"),
        )
    return or_none(table)


def variants_table(plan: Renewal) -> Table:
    """How the list changes with what is assumed."""
    money = plan.currency
    table = titled(
        "The list with other assumptions",
        "",
        "Discount\n% a year",
        f"Budget\n{money}",
        f"Spent\n{money}",
        "Sites",
        "Length\nm",
        f"Saves\n{money}",
        "Of the list\n%",
        "Best saves more\nby at most, %",
    )
    for row in plan.variants.itertuples():
        table.add_row(
            Text(str(row.variant)),
            _bare(row, "discount_share"),
            _bare(row, "budget_currency"),
            _bare(row, "spent_currency"),
            whole(row.projects_count),
            whole(row.length_m),
            _bare(row, "benefit_currency"),
            _share(row.same_length_share),
            _bare(row, "gap_share"),
        )
    return or_none(table)


def survey_table(plan: Renewal) -> Table:
    """The year's leak surveys, the soonest due first."""
    table = titled(
        "Leak surveys, the soonest due first",
        "Zone",
        "First due",
        "Last surveyed",
        "Interval\nmonths",
        "Surveys\nthis year",
        "Mains\nkm",
        "On foot\nh each",
        f"Costs\n{plan.currency} each",
        left=3,
    )
    for column in table.columns[1:3]:
        column.no_wrap = True
    for row in plan.survey_year.itertuples():
        table.add_row(
            Text(zones_words(row.cell_id, plan.zones)),
            day(row.due),
            "not told" if missing(row.last_surveyed) else day(row.last_surveyed),
            estimate(row, "survey_interval_months"),
            _bare(row, "surveys_count"),
            _bare(row, "mains_km"),
            _bare(row, "work_h"),
            _bare(row, "survey_currency"),
        )
    return or_none(table)


def captured_table(found: Backtest) -> Table:
    """Later breaks captured by each ranking."""
    table = titled(
        f"Breaks from {found.year} on, on the length that would have come first",
        "Ranked by",
        "First 5 %\nof length, %",
        "First 10 %\nof length, %",
        "First 20 %\nof length, %",
        "Area under\nthe curve",
        "Rates hold more\non 10 %, %",
    )
    for row in found.table.itertuples():
        table.add_row(
            RANKING_WORDS[str(row.ranking)],
            estimate(row, "captured_5_share"),
            estimate(row, "captured_10_share"),
            estimate(row, "captured_20_share"),
            estimate(row, "area_share", like="area"),
            estimate(row, "more_10_share"),
        )
    return or_none(table)


def tenths_table(deciles: pd.DataFrame) -> Table:
    """Breaks expected and seen by tenth, the highest rates first."""
    table = titled(
        "Breaks by tenth, highest rates first",
        "Tenth",
        "Pipes",
        "Length\nkm",
        "Expected",
        "Seen",
    )
    for row in deciles.itertuples():
        table.add_row(
            whole(row.decile),
            whole(row.pipes_count),
            _bare(row, "length_km"),
            estimate(row, "expected_count", like="expected"),
            whole(row.seen_count),
        )
    return or_none(table)


def print_backtest(found: Backtest) -> None:
    """The whole printed output of `district renew --backtest`."""
    show(captured_table(found), tenths_table(found.deciles))
    tenths = "Each tenth expects the same number of breaks; its limits hold chance too."
    print_lines([tenths if len(found.deciles) else "", *(f"- {line}" for line in found.said)])


def print_renewal(plan: Renewal, paths: Sequence[Path]) -> None:
    """The whole printed output of `district renew`."""
    print_counted(plan.name, plan.findings, shown=SHOWN, more="")
    print_lines([record_line(plan)])
    print_lines([f"- {line}" for line in plan.said])
    show(list_table(plan))
    kept = "* Share of the variants of this budget below that list most of it too."
    reasons = [_reason(row, plan) for row in plan.projects.head(SHOWN).itertuples()]
    print_lines([kept, *reasons] if reasons else [])
    show(material_table(plan), years_table(plan), variants_table(plan), survey_table(plan))
    said = zip(plan.survey_year["cell_id"], plan.survey_year["said"], strict=True)
    print_lines([f"- {zones_words(z, plan.zones)}: {why}" for z, why in said if not missing(why)])
    print_lines(basis(rests_on(plan), "The plan rests on"))
    print_lines([RENEWAL_CAUTION])
    print_files(paths)


def record_line(plan: Renewal) -> str:
    """What the record of breaks is, in a sentence."""
    based = rests_on(plan)
    over = f", {period(based.first, based.last)}" if based.first else ""
    seen = plural(int(plan.pipes["breaks_count"].sum()), "break")
    watched = figure(plan.pipes["exposure_km_year"].sum(), name="exposure_km_year")
    return (
        f"Record of breaks{over}: {seen} of the mains in use, watched for {watched}; "
        f"{form_words(plan.rates.growth)}."
    )


def _reason(row: Any, plan: Renewal) -> str:
    where = zones_words(row.cell_ids, plan.zones)
    # The sentence is for a meeting too, and begins with the street.
    said = "" if missing(row.said) else f": {str(row.said).removeprefix(f'{row.street}: ')}"
    return f"- {row.rank:.0f} {row.street} ({where}){said}"


def _bare(row: Any, name: str) -> str:
    """A figure without limits of its own; the unit stands in the column's heading."""
    return rounded(getattr(row, name), name=name)[0]


def _share(value: Any) -> str:
    return EMPTY if missing(value) else percent(value, decimals=0).removesuffix(" %")
