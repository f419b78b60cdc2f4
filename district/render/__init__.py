"""Pages, map, workbook, layers and tables for people."""

from district.render.alarm_files import alarms_json, write_morning
from district.render.disagreeing import zones_named
from district.render.ledger import (
    STATE_WORDS,
    kind_words,
    leaks_of,
    place_words,
    write_ledger,
    year_lines,
)
from district.render.map import write_map
from district.render.pages import write_pages
from district.render.renewal import write_renewal
from district.render.renewal_tables import renewal_frames
from district.render.renewal_words import (
    form_words,
    group_words,
    materials_words,
    rests_on,
    together,
    zones_words,
)
from district.render.reservations import of_the_audit, of_the_year, of_zones
from district.render.sheet import write_sheets
from district.render.shifts import shifted_zones
from district.render.step_sheet import write_step_sheet
from district.render.walk_files import write_walk

__all__ = [
    "STATE_WORDS",
    "alarms_json",
    "form_words",
    "group_words",
    "kind_words",
    "leaks_of",
    "materials_words",
    "of_the_audit",
    "of_the_year",
    "of_zones",
    "place_words",
    "renewal_frames",
    "rests_on",
    "shifted_zones",
    "together",
    "write_ledger",
    "write_map",
    "write_morning",
    "write_pages",
    "write_renewal",
    "write_sheets",
    "write_step_sheet",
    "write_walk",
    "year_lines",
    "zones_named",
    "zones_words",
]
