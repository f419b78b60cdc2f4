"""Wet-floor sensors, leak cables and chamber floats that cannot be believed."""

from __future__ import annotations

from typing import Any

from district.render.explain import SENSOR_WORDS
from district.render.named_places import Place, named_places
from district.render.templates import row_dicts
from district.results import DistrictReport
from district.words import missing

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
        "rows": [_told(row, places) for row in row_dicts(ordered)],
        "sound": len(checks) - len(bad),
        "unfolded": SENSORS,
    }


def sensor_said(check: Any) -> str:
    """How a sensor behaves, for the map: the verdict, and why."""
    verdict = SENSOR_WORDS.get(str(check["verdict"]), str(check["verdict"]))
    return verdict if missing(check["said"]) else f"{verdict}. {check['said']}"


def _told(row: dict[str, Any], places: dict[tuple[str, str], Place]) -> dict[str, Any]:
    place = places["sensor", str(row["sensor_id"])]
    return {
        **row,
        "name": place.name,
        "beside": place.beside(),
        "verdict_words": SENSOR_WORDS.get(str(row["verdict"]), str(row["verdict"])),
    }
