"""Where a leak most likely is, by stretch of pipe, and what to walk."""

from district.locate.posterior import locate_leaks

__all__ = ["locate_leaks"]
