"""Whether repairs worked: what the night flow did after each."""

from __future__ import annotations

from typing import Any

from district.render.explain import REPAIR_WORDS
from district.render.named_places import Place, judged, named_places
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
    places = named_places(report)

    def _place(key: str) -> Place:
        # A repair tells its place's id alone; zones go before meters of the same id.
        found = (places.get((kind, key)) for kind in ("zone", "building"))
        return next((place for place in found if place is not None), Place(key))

    told = [judged(row, _place(str(row["place_id"])), REPAIR_WORDS) for row in row_dicts(ordered)]
    return {"rows": told, "unfolded": REPAIRS}
