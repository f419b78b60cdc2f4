"""Leak events: since when, how much, and what they likely are."""

from district.detect.events import find_events

__all__ = ["find_events"]
