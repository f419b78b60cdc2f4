"""How well the model of the pipes explains the pressure loggers, logger by logger."""

from __future__ import annotations

from typing import Any

import pandas as pd
from markupsafe import Markup

from district.render import palette
from district.render.text import escape
from district.results import DistrictReport
from district.words import missing, plural, true

_WIDTH = 120.0


def loggers(report: DistrictReport) -> list[dict[str, Any]]:
    """Rows of LOGGER_CHECKS, those that do not count and those explained worst first; `bar` shows
    the residual before and after the fit on one scale for all."""
    table = report.location.logger_checks
    top = pd.to_numeric(table[["before_m", "after_m"]].stack()).max() if len(table) else 0.0
    order = table.assign(
        counted=table["used"].map(true).astype(bool), left=pd.to_numeric(table["after_m"])
    ).sort_values(["counted", "left", "sensor_id"], ascending=[True, False, True])
    return [
        {**row, "bar": residual_bar(row["before_m"], row["after_m"], top_m=top)}
        for row in order[list(table.columns)].to_dict("records")
    ]


def silent_loggers(report: DistrictReport) -> str:
    """What to say where the reader decides, if loggers do not count; '' where all of them do, and
    where there is none."""
    used = report.location.logger_checks["used"].map(true).astype(bool)
    if used.empty and (report.layers.sensors["kind"] == "pressure").any():
        return "No pressure logger tells where a leak is; what limits the search, below, says why."
    if used.all():
        return ""
    count = plural(len(used), "pressure logger")
    if used.any():
        few = plural(int((~used).sum()), "of them does", "of them do")
        return f"The model of the pipes was held against {count}; {few} not count."
    return (
        f"The model of the pipes does not explain the {count} well enough: none of them tells "
        "where a leak is. The walks below rest on balance, leaks expected and what crews found."
    )


def residual_bar(before_m: Any, after_m: Any, *, top_m: float) -> Markup:
    """A residual before (ring) and after (dot) the fit, from 0 to `top_m`: a small inline SVG."""
    if missing(before_m) or missing(after_m) or not top_m > 0:
        return Markup("")
    x = [round(6 + (_WIDTH - 12) * min(float(v) / top_m, 1.0), 1) for v in (before_m, after_m)]
    return Markup(
        '<svg class="interval" viewBox="0 0 {width:.0f} 14" width="{width:.0f}" height="14" '
        'aria-hidden="true"><path d="M6 1v12" stroke="{quiet}"/>'
        '<path d="M{old} 7H{new}" stroke="{quiet}"/>'
        '<circle cx="{old}" cy="7" r="3.5" fill="#ffffff" stroke="{ink}"/>'
        '<circle cx="{new}" cy="7" r="4" fill="{ink}"/></svg>'
    ).format(width=_WIDTH, old=x[0], new=x[1], quiet=escape(palette.QUIET), ink=escape(palette.INK))
