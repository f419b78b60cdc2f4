"""Every morning: what is new against the data before, what stands open, what fell silent."""

from district.watch.compare import KEEP_NIGHTS, compare
from district.watch.current import alarms_now
from district.watch.headlines import KINDS, sure
from district.watch.places import watched_places
from district.watch.silence import latest_reading, silent_devices

__all__ = [
    "KEEP_NIGHTS",
    "KINDS",
    "alarms_now",
    "compare",
    "latest_reading",
    "silent_devices",
    "sure",
    "watched_places",
]
