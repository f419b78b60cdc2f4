from __future__ import annotations

from dataclasses import replace

import pandas as pd

from district.cli import say_report
from district.results import Basis, Location
from district.schema import empty
from district.schema.outputs import LIKELIHOOD, SEARCH_SETS, STRETCHES


def test_one_sentence_says_where_to_read_on_about_the_stretches() -> None:
    nothing = Location(empty(LIKELIHOOD), empty(STRETCHES), empty(SEARCH_SETS), Basis())
    assert say_report.what_told(nothing) == ""
    sets = pd.DataFrame([{"sought_id": "E"}], columns=[*SEARCH_SETS.names()])
    bare = replace(nothing, search_sets=sets)
    assert say_report.what_told(bare) == (
        "'district locate' says what told each leak's place and which piece of a stretch to walk."
    )
    checks = pd.DataFrame({"sensor_id": ["PL-1", "PL-2"], "used": [True, False]})
    heard = replace(bare, logger_checks=checks)
    assert say_report.what_told(heard).endswith("to walk; 1 of 2 pressure loggers can be used.")
