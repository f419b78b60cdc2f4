"""Pages, map, workbook, layers and tables for people."""

from district.render.map import write_map
from district.render.pages import write_pages
from district.render.shifts import shifted_zones

__all__ = ["shifted_zones", "write_map", "write_pages"]
