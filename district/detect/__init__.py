"""Leak events: since when, how much, of what kind; and when a valve should shut by itself."""

from district.detect.changed import find_changes
from district.detect.events import find_events
from district.detect.hours import hours_wanted, net_hours
from district.detect.meters_of import building_meters
from district.detect.ranking import rank_events
from district.detect.shutoff import shutoff_devices, shutoff_settings
from district.detect.still import check_buildings

__all__ = [
    "building_meters",
    "check_buildings",
    "find_changes",
    "find_events",
    "hours_wanted",
    "net_hours",
    "rank_events",
    "shutoff_devices",
    "shutoff_settings",
]
