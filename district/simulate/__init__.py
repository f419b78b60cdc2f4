"""A district of our own invention, with its truth known: to try, test and score the tool on."""

from district.simulate.scenario import Scenario
from district.simulate.score import score
from district.simulate.simulated import Simulated, simulate
from district.simulate.write import layers_of, make_district, works_table

__all__ = [
    "Scenario",
    "Simulated",
    "layers_of",
    "make_district",
    "score",
    "simulate",
    "works_table",
]
