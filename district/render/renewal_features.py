"""GeoJSON features of the plan of renewal: each main with all that its score is made of."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import geopandas as gpd
import pandas as pd
import shapely

from district.render import palette
from district.render.features import Feature, degrees, feature
from district.render.popups import estimate, metres
from district.render.renewal_words import best_year_words, growth_words, zones_words
from district.render.text import escape
from district.renewal_results import Renewal
from district.words import EMPTY, brief, figure, missing, percent, spelled

Row = Mapping[str, Any]
"""A row of RENEWAL_PIPES."""
RISK = "risk_currency_m"
TOLD_BY = {"breaks": "the record of breaks", "published": "published rates alone"}
PARTS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("", ("On the list", "Variants that list it")),
    ("What renewal saves", ("Breaks cost", "Renewal costs", "It saves", "For each unit of cost",
                            "Costs least in")),
    ("How it breaks", ("Breaks on record", "Watched", "Breaks a year", "... by 100 km",
                       "... in order", "... by published rates alone", "Against its like",
                       "Growth", "Told by")),
    ("What a break costs", ("In all", "Water lost", "That water", "Repair", "Outage",
                            "Properties dry", "People dry", "Critical users dry",
                            "Shut off with", "Above it")),
    ("Leakage hidden on it", ("Likely now", "Until it is found")),
    ("The pipe", ("Material", "Inside diameter", "Laid", "Age", "Length", "Ground", "Street",
                  "Zone")),
)  # fmt: skip
"""Headings of what a click on a pipe shows, and the labels beneath each: those of `told`."""


def told(row: Row, plan: Renewal, works: Mapping[str, str]) -> list[str]:
    """What a pipe's score is made of (a row of RENEWAL_PIPES): a text for each label of PARTS,
    '' where there is none; not yet escaped. `works` names those on the list by project_id."""
    money = plan.currency
    return [
        works.get(str(row["project_id"]), "no"),
        _shares(row["kept_share"]),
        *_saving(row, money),
        *_breaking(row, len(plan.pipes)),
        *_costing(row, money),
        estimate(row, "hidden_leak_m3_d"),
        _money(row, "hidden_currency", money),
        *_lying(row, plan.zones),
    ]


def _saving(row: Row, money: str) -> list[str]:
    return [
        _money(row, "risk_currency_year", money),
        _money(row, "renewal_currency", money),
        _money(row, "benefit_currency", money),
        estimate(row, "benefit_cost_index"),
        best_year_words(row),
    ]


def _breaking(row: Row, pipes: int) -> list[str]:
    rate, published = "breaks_per_100_km_year", row["published_per_100_km_year"]
    return [
        figure(row["breaks_count"], name="breaks_count"),
        figure(row["exposure_km_year"], name="exposure_km_year"),
        # By numbers alone: the labels tell the unit.
        figure(*_three(row, "breaks_per_year")),
        figure(*_three(row, rate)),
        "" if missing(row["rank"]) else f"{row['rank']:.0f} of {pipes}",
        "" if missing(published) else f"{brief(published)} by 100 km",
        "" if missing(row["own_index"]) else f"{brief(row['own_index'])} times as many breaks",
        growth_words(row),
        TOLD_BY.get(str(row["rests_on"]), ""),
    ]


def _costing(row: Row, money: str) -> list[str]:
    critical = row["dry_critical_count"]
    return [
        _money(row, "break_currency", money),
        estimate(row, "break_water_m3"),
        _money(row, "water_currency", money),
        _money(row, "repair_currency", money),
        _money(row, "outage_currency", money),
        figure(row["dry_properties_count"], name="dry_properties_count"),
        estimate(row, "dry_people_count"),
        "" if missing(critical) else brief(critical),
        _text(row["segments"]),
        _above(row),
    ]


def _lying(row: Row, zones: Mapping[str, str]) -> list[str]:
    bore = figure(row["diameter_mm"], name="diameter_mm")
    bore_class = _text(row["bore_class"])
    return [
        spelled(row["material"]),
        bore_class if bore == EMPTY else f"{bore} ({bore_class})" if bore_class else bore,
        "not known" if missing(row["installed_year"]) else f"{row['installed_year']:.0f}",
        _age(row),
        metres(row["length_m"]),
        _text(row["ground"]),
        _text(row["street"]),
        zones_words(row["cell_id"], zones),
    ]


def works_named(projects: pd.DataFrame) -> dict[str, str]:
    """Works by project_id as people name them: '3, Mill Lane'."""
    return {
        str(row["project_id"]): f"{row['rank']:.0f}, {row['street']}"
        for row in projects.to_dict("records")
    }


def pipe_features(plan: Renewal, risk: palette.Scale | None) -> dict[str, list[Feature]]:
    """Features by layer: lines to touch and to see by rate, by risk, and the casings of what is on
    the list. Higher classes are drawn later, so over the others."""
    works = works_named(plan.projects)
    touched, casings = [], []
    by_rate: list[tuple[int, Feature]] = []
    by_risk: list[tuple[int, Feature]] = []
    for row in _placed(plan):
        grade = palette.BREAKS.place(row["breaks_per_100_km_year"])
        key = escape(row["pipe_id"])
        tip = f"{key}: {escape(estimate(row, 'breaks_per_100_km_year'))}"
        texts = ["" if t == EMPTY else str(escape(t)) for t in told(row, plan, works)]
        title = f"Pipe {key}"
        touched.append(feature(row, {"role": "touch", "tip": tip, "title": title, "told": texts}))
        by_rate.append((grade, feature(row, {"role": "line", "grade": grade})))
        if risk is not None:
            place = risk.place(row[RISK])
            by_risk.append((place, feature(row, {"role": "risk", "grade": place})))
        if not missing(row["project_id"]):
            casings.append((row, grade))
    return {
        "rates": [*touched, *_in_order(by_rate)],
        "risk": _in_order(by_risk),
        # All casings beneath all gaps, so that crossing pipes do not cut each other.
        "works": [
            feature(row, {"role": role, "grade": max(grade, 0)})
            for role in ("casing", "gap")
            for row, grade in casings
        ],
    }


def number_features(plan: Renewal) -> list[Feature]:
    """The order of each site on the list, where it lies."""
    lines = plan.lines.set_index("pipe_id").geometry
    ranks = plan.projects.set_index("project_id")["rank"]
    listed = plan.pipes[plan.pipes["project_id"].isin(ranks.index)]
    spots = {
        str(project): _middle(lines.reindex(own["pipe_id"]).dropna())
        for project, own in listed.groupby("project_id", sort=True)
    }
    placed = gpd.GeoDataFrame(
        {"rank": [ranks[p] for p in spots]}, geometry=list(spots.values()), crs=plan.lines.crs
    )
    # In order: where two would cover each other, the map leaves out the later.
    return [
        feature(row, {"role": "label", "label": f"<b>{row['rank']:.0f}</b>"})
        for _, row in degrees(placed.sort_values("rank", kind="stable")).iterrows()
    ]


def risk_scale(plan: Renewal) -> palette.Scale | None:
    """Classes of risk by metre for this plan's money; None where no pipe has any."""
    known = _risk_by_metre(plan.pipes)
    top = float(known.max()) if known.notna().any() else 0.0
    return palette.risk_classes(top) if top > 0 else None


def _risk_by_metre(pipes: pd.DataFrame) -> pd.Series[Any]:
    return pipes["risk_currency_year"] / pipes["length_m"].where(pipes["length_m"] > 0)


def _placed(plan: Renewal) -> Iterator[dict[str, Any]]:
    """Rows of RENEWAL_PIPES that have a line, with it in degrees."""
    told = plan.pipes.assign(**{RISK: _risk_by_metre(plan.pipes)})
    lines = degrees(plan.lines[["pipe_id", "geometry"]])
    joined = told.merge(lines, on="pipe_id", how="inner", sort=False)
    for row in joined.to_dict("records"):
        yield {str(name): value for name, value in row.items()}


def _middle(lines: gpd.GeoSeries) -> Any:
    if lines.empty:
        return None
    longest = max(shapely.get_parts(lines.to_numpy()), key=lambda part: part.length)
    return longest.interpolate(0.5, normalized=True)


def _in_order(seen: list[tuple[int, Feature]]) -> list[Feature]:
    return [line for _, line in sorted(seen, key=lambda pair: pair[0])]


def _text(value: Any) -> str:
    return "" if missing(value) else str(value)


def _age(row: Row) -> str:
    if missing(row["age_year"]):
        return ""
    taken = ", assumed" if missing(row["installed_year"]) else ""
    return f"{row['age_year']:.0f} years{taken}"


def _above(row: Row) -> str:
    if missing(row["above"]):
        return "nothing told"
    share = row["above_share"]
    over = "" if missing(share) else f", {percent(share, decimals=0)} of its length"
    return f"{spelled(row['above'])}{over}"


def _shares(value: Any) -> str:
    return "" if missing(value) else percent(value, decimals=0)


def _money(row: Row, name: str, currency: str) -> str:
    return figure(*_three(row, name), name, currency=currency)


def _three(row: Row, name: str) -> tuple[Any, Any, Any]:
    return row[name], row[f"{name}_low"], row[f"{name}_high"]
