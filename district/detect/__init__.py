"""Leak events: since when, how much, of what kind; and when a valve should shut by itself."""

from district.detect.events import find_events
from district.detect.meters_of import building_meters
from district.detect.shutoff import shutoff_devices, shutoff_settings
from district.detect.still import check_buildings

__all__ = [
    "building_meters",
    "check_buildings",
    "find_events",
    "shutoff_devices",
    "shutoff_settings",
]
