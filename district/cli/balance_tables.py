"""Tables of the balance: meters that disagree, the year in water and money, where to look first."""

from __future__ import annotations

from typing import Any

import pandas as pd
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from district.cli.layout import estimate, span, titled
from district.words import brief, day, missing, rounded, spelled

DISTRICT = "district"
"""The row of the whole in tables by zone."""


def meters_table(
    meter_checks: pd.DataFrame, without_meter: pd.DataFrame, names: pd.Series[Any]
) -> Table:
    """Meters that are off, one row for each zone beside them."""
    table = titled(
        "Meters that disagree with the others: check them before looking for a leak",
        "Meter",
        "Zone",
        "Wrong\nsince",
        "Reads\nwrong by\n%",
        "Night leakage\nas read\nL/s",
        "Night leakage\nwith it right\nL/s",
        left=2,
    )
    beside = dict(iter(without_meter.groupby("meter_id", sort=False)))
    for meter in meter_checks[meter_checks["verdict"] == "off"].itertuples():
        said = (Text(str(meter.meter_id)), _since(meter), estimate(meter, "off_share"))
        if meter.meter_id not in beside:
            table.add_row(said[0], "-", *said[1:], "-", "-")
            continue
        for n, row in enumerate(beside[meter.meter_id].itertuples()):
            id_text, since, off = said if not n else (Text(""), "", "")
            table.add_row(
                id_text,
                Text(str(names.get(row.cell_id, row.cell_id))),
                since,
                off,
                estimate(row, "leakage_l_s"),
                estimate(row, "corrected_leakage_l_s"),
            )
    return table


def _since(row: Any) -> str:
    first, low, high = day(row.since), day(row.since_low), day(row.since_high)
    return first if low == high else f"{first}\n{low} to\n{high}"


def annual_table(annual: pd.DataFrame, *, currency: str, cell_id: str = DISTRICT) -> Table:
    """The annual balance of the district, its value beside each volume, limits on the same line."""
    table = titled(
        "Annual balance of the district (95 % limits beside each figure)",
        "Component",
        "m³",
        "limits",
        currency,
        "limits",
        "Rests on",
    )
    for row in annual[annual["cell_id"] == cell_id].itertuples():
        name = Padding(Text(str(row.component)), (0, 0, 0, int(row.level)))
        water, money = span(row, "volume_m3"), span(row, "value_currency")
        table.add_row(name, *water, *money, spelled(row.rests_on))
    return table


def economics_table(economics: pd.DataFrame, names: pd.Series[Any], *, currency: str) -> Table:
    """Zones in the order in which a search pays, with what it costs to wait."""
    table = titled(
        "Which zone first, by what a search brings",
        "Zone",
        f"Excess costs\n{currency}\na day",
        "Leakage rises\nm³/day\na year",
        "Best interval\nof surveys\nmonths",
        f"One survey\n{currency}",
        "Pays back\nin days",
    )
    zones = economics[economics["cell_id"] != DISTRICT].sort_values("rank", kind="stable")
    for row in zones.itertuples():
        table.add_row(
            Text(str(names.get(row.cell_id, row.cell_id))),
            estimate(row, "excess_day_currency"),
            estimate(row, "rise_m3_d_year"),
            _interval(row),
            rounded(row.survey_currency, name="survey_currency")[0],
            _pays(row),
        )
    return table


def _interval(row: Any) -> str:
    """The interval; where leakage may not rise at all it has no upper limit, or no value either."""
    if not missing(row.survey_interval_months_high) or missing(row.survey_interval_months_low):
        return estimate(row, "survey_interval_months")
    value = row.survey_interval_months
    shown = "-" if missing(value) else brief(value)
    return f"{shown}\n{brief(row.survey_interval_months_low)} or more"


def _pays(row: Any) -> str:
    if missing(row.return_index):
        return "-"
    if row.return_index <= 0:
        return "not yet"
    if missing(row.payback_d_high):
        return f"{brief(row.payback_d)}\n{brief(row.payback_d_low)} or more"
    return estimate(row, "payback_d")
