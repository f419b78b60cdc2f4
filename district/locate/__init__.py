"""Where a leak most likely is, by stretch of pipe, and what to walk."""

from district.locate.leaks import locate_leaks
from district.locate.posterior import spread
from district.locate.spots import spots_of

__all__ = ["locate_leaks", "spots_of", "spread"]
