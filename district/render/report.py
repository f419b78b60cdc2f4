"""The report: one page that answers how much, where, since when and which stretches."""

from __future__ import annotations

from functools import cache
from typing import Any

import jinja2
import pandas as pd
from markupsafe import Markup

from district import words
from district.errors import SEVERITIES
from district.render import (
    ahead,
    explain,
    findings,
    headline,
    popups,
    quality_chart,
    searching,
)
from district.render.buildings import buildings
from district.render.by_month import by_month
from district.render.charts import chart_words, interval_bar, night_chart
from district.render.disagreeing import disagreeing, notice
from district.render.drawn import as_image
from district.render.improve import improve
from district.render.loggers import loggers, silent_loggers
from district.render.repaired import repairs
from district.render.reservations import of_the_audit, of_the_year, of_zones
from district.render.sensed import alarm_sensors
from district.render.shifts import accounted_for, shifted_zones
from district.render.shutting import shut_off
from district.render.since import since_when
from district.render.stretches import drawn_stretches
from district.render.templates import environment, finished, row_dicts, styles
from district.render.visits import visits
from district.results import Balance, DistrictReport
from district.schema import inputs, outputs, stored
from district.schema.columns import Table
from district.words import missing

TOP = 10
"""Stretches shown in the report; the workbook and tables have all."""
DEVICES = 12
"""Meters and sensors shown unfolded, those with most readings lost."""
USERS = 8
"""Large night users shown unfolded."""
ZONES = 15
"""Zones shown unfolded in the tables of visits, months and pressure."""
IMPROVED = 4
"""Places shown unfolded with what to measure better: the district and the worst zones."""
LEAKS = 3
"""Leaks of which all the evidence stands unfolded, the largest."""
CAUSES = 3
"""Causes shown of each gap beyond its limits."""


def report_page(report: DistrictReport) -> str:
    """The report as the text of an HTML page that needs neither network nor script."""
    return finished(_templates().get_template("report.html").render(**_context(report)))


@cache
def _templates() -> jinja2.Environment:
    made = environment()
    made.globals.update(
        est=popups.estimate, unit=words.unit, moment=words.moment, per_100_m=popups.per_100_m,
        brief=words.brief, metres=_metres, percent=_percent, distance=searching.distance,
    )  # fmt: skip
    return made


def _context(report: DistrictReport) -> dict[str, Any]:
    balance, events = report.balance, report.events.events
    names = _names(report)
    groups = findings.gathered(report.findings)
    drawn = drawn_stretches(report)
    ranked = drawn.dropna(subset=["rank"]).sort_values("rank")
    return {
        "report": report,
        "style": styles("report.css"),
        "period": words.period(balance.basis.first, balance.basis.last),
        "answers": headline.answers(report),
        "names": names,
        "zones": row_dicts(balance.zones),
        "bar": _bar(balance.zones),
        "reserved": of_zones(balance),
        "year_reserved": of_the_year(balance),
        "shifted": shifted_zones(events),
        "since": since_when(report),
        "repairs": repairs(report),
        "buildings": buildings(report),
        "sensors": alarm_sensors(report),
        "shut_off": shut_off(report),
        "leaks": searching.searches(report, drawn),
        "unfolded_leaks": LEAKS,
        "stretches": searching.stretches_in_words(report, ranked.head(TOP)),
        "stretches_count": len(ranked),
        "search_limits": report.location.basis.limits,
        "silent": silent_loggers(report),
        "loggers": loggers(report),
        "roughness": row_dicts(report.location.calibration),
        "reach": ahead.reach(report),
        "devices": ahead.devices(report),
        "device_caution": words.FITTING_CAUTION,
        "devices_shown": DEVICES,
        "ahead_basis": report.location.ahead,
        "step_test_caution": words.STEP_TEST_CAUTION,
        "charts": _charts(report),
        "annual": _by_zone(balance.annual, names),
        "indicators": row_dicts(_district_first(balance.indicators)),
        "groups": [g for g in groups if g.severity != "note"],
        "notes": [g for g in groups if g.severity == "note"],
        "notice": notice(report),
        "meters": disagreeing(report),
        "visits": visits(report),
        "bursts": _bursts(report),
        "months": by_month(report),
        "night_users": row_dicts(balance.night_users),
        "users_shown": USERS,
        "zones_shown": ZONES,
        "costs_known": bool(balance.indicators["non_revenue_cost_share"].notna().any()),
        "gaps": row_dicts(_district_first(balance.loss_gaps)),
        "gaps_open": _open_gaps(balance.loss_gaps),
        "causes": _causes(balance),
        "pressures": _pressures(balance),
        "pressure_caution": words.PRESSURE_CAUTION,
        "improvements": improve(report),
        "audit_reserved": of_the_audit(balance),
        "improve_shown": IMPROVED,
        "counts": {s: sum(f.severity == s for f in report.findings) for s in SEVERITIES},
        "quality": _quality(report.quality),
        "quality_chart": _quality_chart(report.quality),
        "quality_shown": DEVICES,
        "defaults": [_default(row) for row in row_dicts(report.defaults)],
        "assumptions": _said(report, "assumptions"),
        "limiting": _said(report, "limits"),
        "meanings": explain.meanings(tanks=_tanks(report)),
        "caution": words.CAUTION,
        "tables": [(t.name, t.meaning) for t in (*outputs.OUTPUTS, stored.DEVICE_QUALITY)],
    }


def _names(report: DistrictReport) -> dict[str, str]:
    named = popups.zone_titles(report.balance.zones)
    return {"district": "Whole district", **named}


def _metres(value: Any) -> str:
    """Metres of walk: nobody paces out less than one."""
    return words.EMPTY if missing(value) else words.whole(float(value))


def _percent(share: Any) -> str:
    return words.EMPTY if missing(share) else words.whole(100 * float(share))


def _bar(zones: pd.DataFrame) -> dict[str, Markup]:
    top = zones[["excess_l_s", "excess_l_s_high"]].max().max()
    return {
        str(row["cell_id"]): Markup(
            interval_bar(
                row["excess_l_s"], row["excess_l_s_low"], row["excess_l_s_high"], top_l_s=top
            )
        )
        for row in row_dicts(zones)
    }


def _charts(report: DistrictReport) -> list[dict[str, Any]]:
    charts = []
    for row in row_dicts(report.balance.zones):
        nights = report.balance.nights[report.balance.nights["cell_id"] == row["cell_id"]]
        if nights.empty:
            continue
        events = report.events.events[report.events.events["cell_id"] == row["cell_id"]]
        seven = report.balance.seven_nights
        seven = seven[seven["cell_id"] == row["cell_id"]]
        title = popups.zone_title(row)
        charts.append(
            {
                "title": title,
                "image": Markup(as_image(night_chart(nights, events, seven=seven))),
                "alt": chart_words(nights, title),
            }
        )
    return charts


def _district_first(frame: pd.DataFrame) -> pd.DataFrame:
    return frame.sort_values("cell_id", key=lambda c: c != "district", kind="stable")


def _by_zone(annual: pd.DataFrame, names: dict[str, str]) -> list[dict[str, Any]]:
    return [
        {
            "title": names.get(str(key), str(key)),
            "rows": row_dicts(part),
            "whole": key == "district",
        }
        for key, part in _district_first(annual).groupby("cell_id", sort=False)
    ]


def _tanks(report: DistrictReport) -> bool:
    return bool((report.layers.sensors["kind"] == "tank_level").any())


def _bursts(report: DistrictReport) -> dict[str, str]:
    """Zone -> its excess as a number of burst service pipes, where that is one at least and no
    meter or boundary makes it."""
    said = {str(row["cell_id"]): popups.bursts(row) for row in row_dicts(report.balance.zones)}
    apparent = accounted_for(report)
    return {cell: count for cell, count in said.items() if count and cell not in apparent}


def _open_gaps(gaps: pd.DataFrame) -> int:
    zones = gaps[gaps["cell_id"] != "district"]
    return sum(not missing(a) and not words.true(a) for a in zones["agrees"])


def _causes(balance: Balance) -> list[dict[str, Any]]:
    """The likeliest causes of gaps beyond their limits, the district's first."""
    gaps = balance.loss_gaps
    apart = [str(c) for c, a in zip(gaps["cell_id"], gaps["agrees"], strict=True)
             if not missing(a) and not words.true(a)]  # fmt: skip
    causes = balance.gap_causes
    shown = causes[causes["cell_id"].isin(apart) & causes["possible"].map(words.true).astype(bool)]
    ordered = shown.sort_values("rank", kind="stable").groupby("cell_id", sort=False).head(CAUSES)
    return row_dicts(_district_first(ordered.sort_values(["cell_id", "rank"], kind="stable")))


def _pressures(balance: Balance) -> list[dict[str, Any]]:
    """Rows of ZONE_PRESSURE; `usual` where the exponent is the one that is set. The caution each
    repeats stands once above the table."""
    usual = set(balance.zone_exponents.query("rests_on == 'default'")["cell_id"])
    return [
        {
            **row,
            "basis": str(row["basis"]).replace(words.PRESSURE_CAUTION, "").strip(),
            "usual": row["cell_id"] in usual,
        }
        for row in row_dicts(balance.zone_pressure)
    ]


def _quality(quality: pd.DataFrame) -> list[dict[str, Any]]:
    rows = quality.reindex(columns=list(stored.DEVICE_QUALITY.names()))
    lost = rows["missing_share"].fillna(0.0) + rows["unusable_share"].fillna(0.0)
    # Of a few readings one that is missing is a large share and no news: after the others.
    lost = lost.where(rows["expected_count"] >= stored.FEW_READINGS, lost - 2.0)
    return row_dicts(rows.loc[lost.sort_values(ascending=False, kind="stable").index])


def _quality_chart(quality: pd.DataFrame) -> dict[str, Any]:
    shares = quality_chart.device_shares(quality)
    drawn = quality_chart.quality_chart(shares)
    return {
        "image": Markup(as_image(drawn)) if drawn else "",
        "alt": quality_chart.quality_words(shares),
        "left_out": quality_chart.left_out(shares),
        "few": stored.FEW_READINGS,
    }


def _default(row: dict[str, Any]) -> str:
    tables: dict[str, Table] = {t.name: t for t in (*inputs.LAYERS, *inputs.RECORDS)}
    declared = tables.get(str(row["table"]))
    column = str(row["column"])
    known = declared is not None and column in declared.names()
    # What a meaning adds behind a semicolon is how the default comes about: the value says it.
    meaning = declared[column].meaning.partition(";")[0] if declared and known else ""
    value, unit = words.spelled(row["value"]), words.unit(column)
    taken = f"{value} {unit}" if unit and value[:1].isdigit() else value
    count = words.plural(int(row["rows_count"]), "row")
    named = f"{row['table']}, {column}" + (f" ({meaning})" if meaning else "")
    return f"{named}: {taken} in {count} left empty."


def _said(report: DistrictReport, what: str) -> tuple[str, ...]:
    location = report.location
    parts = (report.balance.basis, report.events.basis, location.basis, location.ahead)
    return tuple(dict.fromkeys(line for basis in parts for line in getattr(basis, what)))
