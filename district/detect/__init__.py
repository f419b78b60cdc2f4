"""Leak events: since when, how much, and what they likely are."""

from district.detect.changed import find_changes
from district.detect.events import find_events
from district.detect.hours import hours_wanted, net_hours
from district.detect.ranking import rank_events

__all__ = ["find_changes", "find_events", "hours_wanted", "net_hours", "rank_events"]
