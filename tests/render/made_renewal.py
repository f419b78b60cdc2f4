"""A plan of renewal made up by hand: a small town, its works, its record, names that bite."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
from shapely.geometry import LineString

from district.errors import Finding
from district.renewal_results import Backtest, PipeRates, Renewal
from district.results import Basis
from district.schema import renewal_tables as tables
from district.schema.columns import Table, empty
from district.schema.typed import typed

CRS = "EPSG:25833"
EAST, NORTH = 402_000.0, 5_652_000.0
SCRIPT = "<script>alert(1)</script>"
BRACES = "{{ 7 * 7 }} {% raw %} ${1+1} `tick`"
YEAR = 2026
MATERIALS = ("cast_iron", "asbestos_cement", "ductile_iron", "pvc", "unknown")
PER_100_KM = {"cast_iron": 24.0, "asbestos_cement": 12.0, "ductile_iron": 5.0, "pvc": 1.6}
STREETS = (
    "Mill Lane", f"Upper {SCRIPT}", f'Mühlgasse "alt" & {BRACES}', "=SUM(A1)", "Dock Road", "Ring",
    "Church Street", "Bergweg", "Station Road",
)  # fmt: skip
ZONES = {"Z1": f"Upper town {SCRIPT}", "Z2": "O'Hara & Söhne"}
AWKWARD = f'P7/{SCRIPT}"&'


def three(name: str, value: Any, spread: float = 0.4) -> dict[str, Any]:
    return {name: value, f"{name}_low": value * (1 - spread), f"{name}_high": value * (1 + spread)}


def of(table: Table, rows: Any) -> pd.DataFrame:
    return typed(pd.DataFrame(rows, columns=[*table.names()]), table)


def across(count: int) -> int:
    """Pipes in a row of streets."""
    return max(int(count**0.5), 1)


def made_pipes(count: int = 60) -> pd.DataFrame:
    """RENEWAL_PIPES: `count` mains over some streets, their figures of one another's making."""
    rng = np.random.default_rng(8)
    n = np.arange(count)
    material = np.array(MATERIALS)[rng.choice(5, count, p=(0.3, 0.2, 0.15, 0.3, 0.05))]
    bore = rng.choice((80.0, 100.0, 150.0, 200.0), count)
    laid = np.where(material == "pvc", 1992, 1951) + rng.integers(0, 20, count)
    length = rng.uniform(40, 180, count).round(1)
    own = rng.gamma(4, 0.25, count)
    known = np.array([PER_100_KM.get(m, 8.7) for m in material])
    rate = known * own * (bore / 150) ** -0.3
    yearly = rate * length / 1e5
    dry = rng.integers(4, 60, count).astype(float)
    water, repair, outage = 300 + bore, 2500 + 5 * bore, 20 * dry
    cost = (150 + 0.8 * bore) * length
    broken = water * 0.8 + repair + outage
    risk = yearly * broken
    saves = risk * 170
    frame = pd.DataFrame(
        {
            "pipe_id": [f"P{i}" for i in n], "material": material, "diameter_mm": bore,
            "bore_class": np.where(bore < 125, "under 125 mm", "125 to 250 mm"),
            "installed_year": laid.astype(float), "age_year": YEAR - laid, "length_m": length,
            "ground": np.where(n % 3, "sand", "clay"), "cell_id": np.where(n % 2, "Z1", "Z2"),
            "street": [STREETS[i // across(count) % len(STREETS)] for i in n],
            "exposure_km_year": length * 0.02, "breaks_count": rng.poisson(yearly * 20),
            **three("breaks_per_year", yearly, 0.5), **three("breaks_per_100_km_year", rate, 0.5),
            "published_per_100_km_year": known, "own_index": own,
            **three("growth_per_year", np.full(count, 0.031), 0.4),
            "rests_on": np.where(own > 0.6, "breaks", "published"),
            "segments": [f"S{i // 4}" for i in n], "dry_properties_count": dry,
            **three("dry_people_count", dry * 2.3, 0.2),
            "dry_critical_count": (n % 11 == 0).astype(float),
            "above": np.where(n % 4, "", "main_road"), "above_share": np.where(n % 4, np.nan, 0.8),
            **three("break_water_m3", water), **three("water_currency", water * 0.8),
            **three("repair_currency", repair, 0.3), **three("outage_currency", outage, 0.5),
            **three("break_currency", broken, 0.3), **three("hidden_leak_m3_d", 0.02 * length / 9),
            **three("hidden_currency", 2.9 * length / 9), **three("renewal_currency", cost, 0.3),
            **three("risk_currency_year", risk, 0.6), **three("benefit_currency", saves, 0.6),
            **three("benefit_cost_index", saves / cost, 0.7),
            **three("best_year", YEAR + np.floor(60 * cost / saves / 50), 0.002),
            "best_note": np.where(n % 5, "", "breaks do not grow enough"),
            "project_id": "", "kept_share": np.where(saves / cost > 1.0, 0.86, 0.0),
        }
    )  # fmt: skip
    frame.loc[n % 5 == 0, ["best_year", "best_year_low", "best_year_high"]] = np.nan
    frame.loc[n == 3, ["installed_year", "ground", "street"]] = [np.nan, "", ""]
    frame.loc[n == 7, "pipe_id"] = AWKWARD
    order = (-frame["breaks_per_100_km_year"]).rank(method="first")
    return typed(frame.assign(rank=order), tables.RENEWAL_PIPES)


def listed(pipes: pd.DataFrame, works: int) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Three neighbours of each of the first rows, as RENEWAL_PROJECTS, and the pipes with these."""
    told, rows = pipes.copy(), []
    for at in range(works):
        first = at * across(len(pipes))
        own = pipes.iloc[first + at % 3 : first + at % 3 + 3]
        key = f"W{at + 1}"
        told.loc[own.index, ["project_id", "kept_share"]] = [key, 0.9]
        sums = {c: float(own[c].sum()) for c in own if own[c].dtype == float}
        cost = sums["renewal_currency"] + 4000
        rows.append(
            {
                "project_id": key, "street": own["street"].iloc[0] or str(own["pipe_id"].iloc[0]),
                "cell_ids": ", ".join(sorted({*own["cell_id"]})),
                "pipe_ids": ", ".join(own["pipe_id"]), "pipes_count": len(own),
                "length_m": sums["length_m"], "materials": ", ".join(sorted({*own["material"]})),
                "breaks_count": sums["breaks_count"],
                **three("breaks_per_year", sums["breaks_per_year"], 0.4),
                **three("risk_currency_year", sums["risk_currency_year"], 0.5),
                **three("cost_currency", cost, 0.3),
                **three("benefit_currency", sums["benefit_currency"], 0.5),
                **three("benefit_cost_index", sums["benefit_currency"] / cost, 0.6),
                "kept_share": 1 - 0.05 * at,
                "said": f"{int(sums['breaks_count'])} breaks on record on {len(own)} pipes of "
                f"{own['material'].iloc[0]}; each costs much, as it lies under a road",
            }
        )  # fmt: skip
    frame = of(tables.RENEWAL_PROJECTS, rows).sort_values("benefit_cost_index", ascending=False)
    return frame.reset_index(drop=True).assign(rank=np.arange(1.0, len(frame) + 1)), told


def made_years(breaks: float) -> pd.DataFrame:
    """RENEWAL_YEARS: the worse the less is renewed."""
    rows = []
    for scenario, less in zip(tables.SCENARIOS, (0.0, 0.03, 0.055), strict=True):
        for n in range(10):
            now = breaks * (1.03 - less) ** n
            spent = {"none": 0.0, "list": 70_000.0, "twice": 140_000.0}[scenario]
            rows.append(
                {
                    "scenario": scenario, "year": YEAR + n, "renewed_m": spent / 270,
                    "spent_currency": spent, **three("breaks_count", now, 0.35),
                    **three("leakage_m3", 2000 + 460 * now, 0.45),
                    **three("breaks_currency", 3600 * now, 0.5),
                }
            )  # fmt: skip
    return of(tables.RENEWAL_YEARS, rows)


def made_groups(pipes: pd.DataFrame) -> pd.DataFrame:
    """RENEWAL_GROUPS of the pipes."""
    rows = []
    for group in ("street", "material"):
        for name, own in pipes.groupby(group, sort=True):
            km = own["length_m"].sum() / 1000
            yearly = own["breaks_per_year"].sum()
            on = own[own["project_id"] != ""]
            rows.append(
                {
                    "group": group, "name": name or "not told",
                    "pipes_count": len(own), "length_km": km,
                    "mean_age_year": np.average(own["age_year"], weights=own["length_m"]),
                    "exposure_km_year": own["exposure_km_year"].sum(),
                    "breaks_count": own["breaks_count"].sum(),
                    **three("breaks_per_year", yearly), "listed_km": on["length_m"].sum() / 1000,
                    **three("breaks_per_100_km_year", 100 * yearly / km),
                    "cost_currency": on["renewal_currency"].sum(),
                }
            )  # fmt: skip
    return of(tables.RENEWAL_GROUPS, rows)


def made_terms() -> pd.DataFrame:
    """FIT_TERMS: growth, materials, ground, zones, bore."""
    known = [
        ("growth with age", "exponentially", 0.031, 0.0, "breaks grow by 3.1 % a year of age"),
        *(("material", m, 1.1 + 0.1 * n, 1.0, "") for n, m in enumerate(MATERIALS)),
        ("ground", "clay", 1.4, 1.0, f"in clay {SCRIPT} pipes break 1.4 times as often"),
        ("bore", "", -0.42, -0.3, "breaks go with the bore to the power -0.42"),
        ("zone", "Z1", 1.2, 1.0, ""),
    ]  # fmt: skip
    return of(
        tables.FIT_TERMS,
        [
            {
                "term": term, "level": level, "factor_index": f, "factor_index_low": f - 0.2,
                "factor_index_high": f + 0.2, "published_index": p, "pipes_count": 12,
                "exposure_km_year": 24.5, "breaks_count": 9, "said": said,
            }
            for term, level, f, p, said in known
        ],
    )  # fmt: skip


def made_deciles(expected: float = 6.0) -> pd.DataFrame:
    """DECILES: each expects a tenth, what is seen wanders about it."""
    seen = (7, 4, 6, 8, 5, 13, 6, 3, 7, 5)
    return of(
        tables.DECILES,
        [
            {
                "decile": n + 1, "pipes_count": 2 + n, "length_km": 0.2 + 0.1 * n,
                "expected_count": expected, "expected_count_low": 2.0, "expected_count_high": 11.0,
                "seen_count": count,
            }
            for n, count in enumerate(seen)
        ],
    )  # fmt: skip


def made_backtest() -> Backtest:
    """BACKTEST: the rates capture most, then earlier breaks, age, chance."""
    powers = dict(zip(tables.RANKINGS, (0.42, 0.6, 0.75, 1.0), strict=True))
    rows, curve = [], []
    for ranking, power in powers.items():
        at = {f"captured_{p}_share": (p / 100) ** power for p in (5, 10, 20)}
        more = 0.1**0.42 - 0.1**power
        rows.append(
            {
                "ranking": ranking, **three("area_share", 1 / (1 + power), 0.1),
                **{k: v for name, share in at.items() for k, v in three(name, share, 0.25).items()},
                **(three("more_10_share", more, 0.6) if more else {}),
            }
        )  # fmt: skip
        curve += [
            {"ranking": ranking, "length_share": x, "captured_share": x**power,
             "captured_share_low": max(x**power - 0.12 * (x < 1) * (x > 0), 0),
             "captured_share_high": min(x**power + 0.12 * (x > 0), 1)}
            for x in np.linspace(0, 1, 41)
        ]  # fmt: skip
    return Backtest(
        year=2020, until=2026.0, table=of(tables.BACKTEST, rows),
        curve=of(tables.BACKTEST_CURVE, curve), deciles=made_deciles(6.4),
        said=(
            "Made at the start of 2020, the list's first tenth of length would have held 38 % "
            "of the 64 breaks since.",
            "By earlier breaks alone it would have held 25 %.",
        ),
    )  # fmt: skip


def made_survey() -> pd.DataFrame:
    """SURVEY_YEAR: one zone due, one not, its last survey not known."""
    common = {"mains_km": 3.1, "work_h": 9.5, "survey_currency": 610.0, "surveyed_share": 0.4}
    return of(
        tables.SURVEY_YEAR,
        [
            {
                "cell_id": "Z1", "rank": 1, "last_surveyed": pd.Timestamp("2024-03-02"),
                **three("survey_interval_months", 17.0), "due": pd.Timestamp("2025-08-01"),
                "surveys_count": 3, "said": "leakage rises by 3 m³/day a year; overdue", **common,
            },
            {
                "cell_id": "Z2", "rank": 2, **three("survey_interval_months", 31.0),
                "due": pd.Timestamp("2027-02-01"), "surveys_count": 0, "said": "rises slowly",
                **common,
            },
        ],
    )  # fmt: skip


def made_variants(budget: float, projects: pd.DataFrame) -> pd.DataFrame:
    """RENEWAL_VARIANTS about the list."""
    spent, gain = projects["cost_currency"].sum(), projects["benefit_currency"].sum()
    kinds = (
        ("this list", 0.035, 1.0, 1.0), ("discount 1.5 %", 0.015, 1.0, 0.95),
        ("discount 6 %", 0.06, 1.0, 0.9), ("works 30 % dearer", 0.035, 1.0, 0.75),
        ("half the budget", 0.035, 0.5, 0.5), ("twice the budget", 0.035, 2.0, 1.0),
    )  # fmt: skip
    return of(
        tables.RENEWAL_VARIANTS,
        [
            {
                "variant": name, "discount_share": rate, "budget_currency": budget * times,
                "spent_currency": spent * min(times, 1.4), "projects_count": len(projects),
                "length_m": projects["length_m"].sum() * times, "gap_share": 0.0004,
                "benefit_currency": gain * times, "same_length_share": same,
            }
            for name, rate, times, same in kinds
        ],
    )  # fmt: skip


def made(count: int = 60, works: int = 8) -> Renewal:
    """A whole plan."""
    projects, pipes = listed(made_pipes(count), works)
    lines = gpd.GeoDataFrame(
        {"pipe_id": pipes["pipe_id"]},
        geometry=[
            LineString([(x, y), (x + 60, y + 14 * (i % 3)), (x + 110, y)])
            for i in range(count)
            for x, y in [(EAST + 115 * (i % across(count)), NORTH + 80 * (i // across(count)))]
        ],
        crs=CRS,
    )
    basis = Basis(
        date(2006, 1, 1), date(2025, 12, 31),
        assumptions=("What a repair costs is as usual, 2500 EUR and more with the bore.",),
        limits=("4 breaks of 71 could not be laid on a pipe.",),
    )  # fmt: skip
    history = of(tables.PIPE_HISTORY, pipes.assign(in_use=True, from_year=2006.0, to_year=2026.0))
    rates = PipeRates(
        table=typed(pipes, tables.PIPE_RATES), year=YEAR,
        draws=np.ones((count, 2), dtype=np.float32), growth="exponential", growth_value=0.031,
        growth_draws=np.full(2, 0.031, dtype=np.float32), terms=made_terms(), history=history,

        basis=Basis(assumptions=("Rates begin from published ones.",), limits=basis.limits),
    )  # fmt: skip
    budget = 900_000.0
    return Renewal(
        name=f"Lindental & {SCRIPT}", currency="EUR", year=YEAR, budget_currency=budget,
        rates=rates, pipes=pipes, projects=projects, variants=made_variants(budget, projects),
        years=made_years(float(pipes["breaks_per_year"].sum())), groups=made_groups(pipes),
        lines=lines, survey_year=made_survey(), zones=dict(ZONES), backtest=made_backtest(),
        said=(
            f"The list holds {len(projects)} works; they save more than they cost only in part.",
            "Cast iron breaks most.",
        ),
        basis=basis,
        findings=(
            Finding("warning", "breaks.csv", "row 12", "pipe_id", got='"P=999"',
                    expected="a pipe of the layer", remedy="Name the pipe that broke"),
            Finding("note", "breaks.csv", "row 14", "date", got="the same break twice",
                    expected="each once", remedy="Remove the copy"),
        ),
    )  # fmt: skip


def bare() -> Renewal:
    """No break, no budget left, no record to hold a list against, no survey to plan."""
    plan = made()
    pipes = plan.pipes.assign(project_id="", breaks_count=0.0, rests_on="published")
    rates = replace(
        plan.rates, growth="none", growth_value=0.0, terms=empty(tables.FIT_TERMS),
        basis=Basis(),
    )  # fmt: skip
    return replace(
        plan, rates=rates, pipes=pipes, projects=empty(tables.RENEWAL_PROJECTS),
        variants=empty(tables.RENEWAL_VARIANTS), backtest=None, said=(), findings=(),
        groups=made_groups(pipes), survey_year=empty(tables.SURVEY_YEAR), basis=Basis(),
    )  # fmt: skip
