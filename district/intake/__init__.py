"""From a district folder to tables: layers, records and readings, with all that is wrong."""

from district.intake.devices import Device, read_devices
from district.intake.draft import Draft, draft
from district.intake.layers import read_layers
from district.intake.parse import ReadingFile, ids_mark, parse, reading_list
from district.intake.propose import propose
from district.intake.readings import all_findings, clean, read_readings
from district.intake.sources import described_by, reading_files
from district.intake.truth import read_truth

__all__ = [
    "Device",
    "Draft",
    "ReadingFile",
    "all_findings",
    "clean",
    "described_by",
    "draft",
    "ids_mark",
    "parse",
    "propose",
    "read_devices",
    "read_layers",
    "read_readings",
    "read_truth",
    "reading_files",
    "reading_list",
]
