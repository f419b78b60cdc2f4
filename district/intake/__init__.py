"""From a district folder to tables: layers, records and readings, with all that is wrong."""

from district.intake.draft import Draft, draft
from district.intake.layers import read_layers
from district.intake.propose import propose
from district.intake.readings import read_readings
from district.intake.sources import reading_files
from district.intake.truth import read_truth

__all__ = [
    "Draft",
    "draft",
    "propose",
    "read_layers",
    "read_readings",
    "read_truth",
    "reading_files",
]
