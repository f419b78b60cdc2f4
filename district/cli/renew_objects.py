"""Objects for machines: the plan of renewal, and how good such a list would have been."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from district.cli.machine import findings_object, tables_object
from district.render import renewal_frames, rests_on
from district.renewal_results import Backtest, PipeRates, Renewal
from district.schema import renewal_tables as tables
from district.schema.renewal_tables import RENEWAL_CAUTION


def renewal_object(plan: Renewal, paths: Sequence[Path]) -> dict[str, Any]:
    """Every table of the plan by its name, never without the caution."""
    frames = {t.name: renewal_frames(plan)[t.name][1] for t in tables.RENEWAL}
    return {
        "name": plan.name,
        "year": plan.year,
        "currency": plan.currency,
        "budget_currency": plan.budget_currency,
        "caution": RENEWAL_CAUTION,
        "said": list(plan.said),
        "growth": plan.rates.growth,
        "backtest_said": [] if plan.backtest is None else list(plan.backtest.said),
        "zones": dict(plan.zones),
        **tables_object(frames, rests_on(plan)),
        **findings_object(plan.findings),
        "files": [str(p) for p in paths],
    }


def backtest_object(found: Backtest, rates: PipeRates) -> dict[str, Any]:
    """How many later breaks each ranking captured, and what the rates of then rested on."""
    frames = {
        tables.BACKTEST.name: found.table,
        tables.BACKTEST_CURVE.name: found.curve,
        tables.DECILES.name: found.deciles,
    }
    return {
        "year": found.year,
        "until_year": found.until,
        "said": list(found.said),
        **tables_object(frames, rates.basis),
        **findings_object(found.findings),
    }
