"""Buildings where water never stops, and meters that cannot be told from dead ones."""

from __future__ import annotations

from typing import Any

import pandas as pd

from district.render.explain import STILL_WORDS
from district.render.named_places import judged, named_places
from district.render.templates import row_dicts
from district.results import DistrictReport
from district.words import plural, true, whole

ACTING = 15
"""Meters worth a visit shown unfolded."""
OTHERS = 60
"""Other meters on the page; the workbook and the tables have all."""
_COUNTED = ("still", "too_few")
"""Verdicts of which the page gives the number alone."""
_ORDER = ("constant_flow", "empty_flow", "stuck", "dead", "below_resolution")


def buildings(report: DistrictReport) -> dict[str, Any]:
    """What building meters show: those worth a visit, dearest first; the others that do not stand
    still; and the others in number."""
    checks = report.events.building_checks
    places = named_places(report)
    act = checks["act"].map(true).astype(bool)
    first = checks[act].sort_values("constant_l_s", ascending=False, kind="stable")
    rest = checks[~act & ~checks["verdict"].isin(_COUNTED)]
    rest = rest.assign(_at=rest["verdict"].map(_ORDER.index)).sort_values(
        ["_at", "constant_l_s"], ascending=[True, False], kind="stable", na_position="last"
    )

    def told(some: pd.DataFrame) -> list[dict[str, Any]]:
        return [
            judged(row, places["building", str(row["device_id"])], STILL_WORDS)
            for row in row_dicts(some)
        ]

    return {
        "acting": told(first),
        "others": told(rest.head(OTHERS)),
        "left_out": max(len(rest) - OTHERS, 0),
        "unfolded": ACTING,
        "counted": _counts(checks[~act]),
    }


def _counts(checks: pd.DataFrame) -> str:
    """How many meters stand still, and of how many nothing can be told."""
    still, few = (int((checks["verdict"] == name).sum()) for name in _COUNTED)
    parts = []
    if still:
        stands = "stands" if still == 1 else "stand"
        parts.append(f"{plural(still, 'meter')} {stands} still at times, as a sound house's does.")
    if few:
        of = "meter is" if few == 1 else "meters are"
        parts.append(f"{whole(few)} {of} read too seldom to tell whether water ever stops there.")
    return " ".join(parts)
