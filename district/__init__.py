"""Find how much water leaks, in which zone, since when and on which stretch of pipe."""

__version__ = "0.1.0"
