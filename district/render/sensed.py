"""Wet-floor sensors, leak cables and chamber floats that cannot be believed."""

from __future__ import annotations

from typing import Any

from district.render.explain import SENSOR_WORDS
from district.render.named_places import judged, named_places
from district.render.templates import row_dicts
from district.results import DistrictReport

SENSORS = 15
"""Sensors shown unfolded."""
_ORDER = tuple(SENSOR_WORDS)


def alarm_sensors(report: DistrictReport) -> dict[str, Any]:
    """Sensors that are not sound, the silent first, and how many are sound."""
    checks = report.events.sensor_checks
    places = named_places(report)
    bad = checks[checks["verdict"] != "sound"]
    ordered = bad.assign(_at=bad["verdict"].map(_ORDER.index)).sort_values(
        ["_at", "last_reading", "sensor_id"], kind="stable"
    )
    return {
        "rows": [
            judged(row, places["sensor", str(row["sensor_id"])], SENSOR_WORDS)
            for row in row_dicts(ordered)
        ],
        "sound": len(checks) - len(bad),
        "unfolded": SENSORS,
    }
