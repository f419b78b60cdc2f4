"""Pages, map, workbook, layers and tables for people; figures as they read everywhere."""

from district.render.map import write_map
from district.render.pages import write_pages
from district.render.shifts import shifted_zones
from district.render.text import day, figure, rounded

__all__ = ["day", "figure", "rounded", "shifted_zones", "write_map", "write_pages"]
