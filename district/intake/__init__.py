"""From a district folder to tables: layers, records and readings, with all that is wrong."""

from district.intake.layers import read_layers
from district.intake.readings import read_readings
from district.intake.sources import reading_files
from district.intake.truth import read_truth

__all__ = ["read_layers", "read_readings", "read_truth", "reading_files"]
