"""Where a leak most likely is, by stretch of pipe, and what to walk."""

from district.locate.leaks import locate_leaks
from district.locate.look_ahead import look_ahead
from district.locate.posterior import spread
from district.locate.pressure_days import days_wanted
from district.locate.spots import Heard, Seen, spots_of
from district.locate.step_results import step_assumed, step_results

__all__ = [
    "Heard",
    "Seen",
    "days_wanted",
    "locate_leaks",
    "look_ahead",
    "spots_of",
    "spread",
    "step_assumed",
    "step_results",
]
