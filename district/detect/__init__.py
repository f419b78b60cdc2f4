"""Leak events: since when, how much, of what kind; and when a valve should shut by itself."""

from district.detect.events import find_events
from district.detect.shutoff import shutoff_devices, shutoff_settings

__all__ = ["find_events", "shutoff_devices", "shutoff_settings"]
