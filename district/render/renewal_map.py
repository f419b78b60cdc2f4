"""The interactive map of the plan of renewal: one HTML file that opens from disk."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from district.files import write_text
from district.render import palette
from district.render.features import Feature
from district.render.legend import renewal_legend
from district.render.map_frame import begun, clickable, ended, line_style
from district.render.renewal_features import PARTS, number_features, pipe_features, risk_scale
from district.render.text import escape
from district.renewal_results import Renewal
from district.schema.renewal_tables import RENEWAL_CAUTION


def write_renewal_map(plan: Renewal, path: Path) -> Path:
    """Write the map to `path`, whole or not at all; the same bytes from the same plan.

    Raises `OutputError` where the place cannot be written.
    """
    write_text(path, renewal_map_page(plan))
    return path


def renewal_map_page(plan: Renewal) -> str:
    """The map as the text of an HTML page."""
    risk = risk_scale(plan)
    drawn = begun(
        title=f"{escape(plan.name)}: which pipes to renew",
        head=_head(plan),
        foot=escape(RENEWAL_CAUTION),
        scale=palette.BREAKS,
        parts=PARTS,
    )
    instead = {} if risk is None else {"risk": risk}

    def style(one: Feature) -> dict[str, Any]:
        return line_style(one["properties"], palette.BREAKS, instead=instead)

    found = pipe_features(plan, risk)
    layers = (
        ("The list", [*found["works"], *number_features(plan)], True),
        ("Breaks a year by 100 km", found["rates"], True),
        ("Cost of breaks by metre", found["risk"], False),
    )
    for name, own, show in layers:
        if own:
            clickable(name, own, show=show, style=style).add_to(drawn)
    return ended(drawn, legend=renewal_legend(risk, plan.currency), within=[plan.lines])


def _head(plan: Renewal) -> str:
    return (
        f'<header class="head"><h1>{escape(plan.name)}: which pipes to renew</h1>'
        f"<p>Plan of {plan.year}. "
        '<span class="screen">Click a pipe for all that its score is made of. '
        '<a href="renewal.html">The plan</a></span></p></header>'
    )
