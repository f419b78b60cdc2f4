"""A district of our own invention, with its truth known: to try, test and score the tool on."""

from district.simulate.leak_trial import LeakTrial, draw_leak_trials
from district.simulate.night_trial import NightTrial, draw_night_trial
from district.simulate.night_trial_kinds import KindTrial, draw_kind_trial
from district.simulate.scenario import Scenario
from district.simulate.score import score
from district.simulate.simulated import Simulated, simulate
from district.simulate.trial import MeterFault, OpenValve, Trial, draw_trial
from district.simulate.trial_score import limits_held, trial_limits
from district.simulate.trial_water import Leaks
from district.simulate.write import layers_of, make_district, works_table

__all__ = [
    "KindTrial",
    "LeakTrial",
    "Leaks",
    "MeterFault",
    "NightTrial",
    "OpenValve",
    "Scenario",
    "Simulated",
    "Trial",
    "draw_kind_trial",
    "draw_leak_trials",
    "draw_night_trial",
    "draw_trial",
    "layers_of",
    "limits_held",
    "make_district",
    "score",
    "simulate",
    "trial_limits",
    "works_table",
]
