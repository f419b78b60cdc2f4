"""Whether repairs worked: what the night flow did after each."""

from __future__ import annotations

from typing import Any

from district.render.explain import REPAIR_WORDS
from district.render.since import place_names
from district.render.templates import row_dicts
from district.results import DistrictReport

REPAIRS = 12
"""Repairs shown unfolded."""
_ORDER = tuple(REPAIR_WORDS)


def repairs(report: DistrictReport) -> dict[str, Any]:
    """Rows of REPAIR_CHECKS, those that ask for another visit first, the newest first of each."""
    checks = report.events.repair_checks
    ordered = checks.assign(_at=checks["verdict"].map(_ORDER.index)).sort_values(
        ["_at", "repaired"], ascending=[True, False], kind="stable"
    )
    names = {key: name for (_, key), name in place_names(report).items()}
    told = [
        {
            **row,
            "name": names.get(str(row["place_id"]), (str(row["place_id"]), ""))[0],
            "beside": names.get(str(row["place_id"]), ("", ""))[1],
            "verdict_words": REPAIR_WORDS[str(row["verdict"])],
        }
        for row in row_dicts(ordered)
    ]
    return {"rows": told, "unfolded": REPAIRS}
