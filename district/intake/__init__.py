"""From a district folder to tables: layers, records and readings, with all that is wrong."""

from district.intake.at_once import read_readings
from district.intake.cleaned import Cleaned, Told, joined, told_of
from district.intake.devices import Device, read_devices
from district.intake.draft import Draft, draft
from district.intake.entry_rows import each_form, with_entries
from district.intake.lanes import LOADED, Lanes, lanes_of, thirds_needed
from district.intake.layers import read_layers
from district.intake.parse import ReadingFile, ids_mark, parse, reading_list
from district.intake.propose import propose
from district.intake.readings import all_findings, clean, clean_third, near_third
from district.intake.sources import described_by, reading_files
from district.intake.spans import Span, own_span, window_of
from district.intake.together import put_together
from district.intake.truth import read_truth

__all__ = [
    "LOADED",
    "Cleaned",
    "Device",
    "Draft",
    "Lanes",
    "ReadingFile",
    "Span",
    "Told",
    "all_findings",
    "clean",
    "clean_third",
    "described_by",
    "draft",
    "each_form",
    "ids_mark",
    "joined",
    "lanes_of",
    "near_third",
    "own_span",
    "parse",
    "propose",
    "put_together",
    "read_devices",
    "read_layers",
    "read_readings",
    "read_truth",
    "reading_files",
    "reading_list",
    "thirds_needed",
    "told_of",
    "window_of",
    "with_entries",
]
