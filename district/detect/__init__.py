"""Leak events: since when, how much, and what they likely are."""

from district.detect.events import find_events
from district.detect.meters_of import building_meters
from district.detect.still import check_buildings

__all__ = ["building_meters", "check_buildings", "find_events"]
