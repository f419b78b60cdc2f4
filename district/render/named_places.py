"""What people call the places of events: a zone, the meter of a building, an alarm sensor."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from district.render.explain import SENSED_WORDS
from district.render.popups import zone_titles
from district.results import DistrictReport
from district.words import missing


@dataclass(frozen=True)
class Place:
    """A place: its name, the meter or sensor there ('' for a zone), and the zone it lies in."""

    name: str
    device: str = ""
    zone: str = ""

    def beside(self) -> str:
        """What tells, beside the name, where it is."""
        return ", ".join(part for part in (self.device, self.zone) if part)

    def whole(self) -> str:
        """The name and the device, without the zone."""
        return f"{self.name} ({self.device})" if self.device else self.name


def named_places(report: DistrictReport) -> dict[tuple[str, str], Place]:
    """(place_kind, place_id) -> the place, of every zone, of every meter and sensor that was
    checked, and of all that have an event."""
    zones = zone_titles(report.balance.zones)
    found = {("zone", key): Place(title) for key, title in zones.items()}
    for row in report.events.building_checks.itertuples():
        key = ("building", str(row.device_id))
        found[key] = _device("meter", row.device_id, row.building_id, row.cell_id, zones)
    for row in report.events.sensor_checks.itertuples():
        key = ("sensor", str(row.sensor_id))
        noun = SENSED_WORDS.get(str(row.kind), "sensor")
        found[key] = _device(noun, row.sensor_id, row.building_id, row.cell_id, zones)
    for row in report.events.events.itertuples():
        key = (str(row.place_kind), str(row.place_id))
        if key[0] == "zone":
            found.setdefault(key, Place(key[1]))
        else:
            noun = "meter" if key[0] == "building" else SENSED_WORDS.get(str(row.kind), "sensor")
            found.setdefault(key, _device(noun, key[1], "", row.cell_id, zones))
    return found


def judged(row: Mapping[str, Any], place: Place, words: Mapping[str, str]) -> dict[str, Any]:
    """A row with a verdict, its place named and the verdict put into `words`."""
    return {
        **row,
        "name": place.name,
        "beside": place.beside(),
        "verdict_words": words.get(str(row["verdict"]), str(row["verdict"])),
    }


def verdict_said(check: Mapping[str, Any], words: Mapping[str, str]) -> str:
    """A verdict in `words` and why, for the map."""
    verdict = words.get(str(check["verdict"]), str(check["verdict"]))
    return verdict if missing(check["said"]) else f"{verdict}. {check['said']}"


def _device(
    noun: str, key: object, building: object, cell_id: object, zones: dict[str, str]
) -> Place:
    zone = "" if missing(cell_id) else zones.get(str(cell_id), str(cell_id))
    if missing(building):
        return Place(str(key), noun, zone)
    return Place(str(building), f"{noun} {key}", zone)
