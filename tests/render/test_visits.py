from __future__ import annotations

from dataclasses import replace

import numpy as np

from district.render.headline import answers
from district.render.visits import APPARENT, running_cost, visits, without_apparent
from district.schema import annual_tables
from district.schema.columns import empty


def test_zones_come_in_the_order_of_a_visit_and_the_district_last(report):
    assert [v["cell_id"] for v in visits(report)] == ["Z1", "Z2", "district"]


def test_a_zone_whose_figures_a_boundary_shifts_says_by_how_much(report):
    assert [v["shift"] for v in visits(report)] == ["", "", ""]
    moved = report.events.events.iloc[[0]].assign(
        kind="boundary", state="open", cell_id="Z1", other_cell_id="Z2"
    )
    rows = visits(replace(report, events=replace(report.events, events=moved)))
    first, second, whole = (v["shift"].replace("\u00a0", " ") for v in rows)
    assert first == "1.10 L/s (0.98 to 1.22) too much"
    assert second == "1.10 L/s (0.98 to 1.22) too little"
    assert whole == ""


def test_a_survey_that_does_not_pay_has_no_days_to_earn_it_back(report):
    table = report.balance.economics
    gain = {"Z1": 2.0, "Z2": -0.5, "district": np.nan}
    told = table.assign(return_index=table["cell_id"].map(gain))
    rows = visits(replace(report, balance=replace(report.balance, economics=told)))
    assert [v["pays"] for v in rows] == [True, False, False]
    assert [v["pays_not"] for v in rows[1:]] == ["not yet", "-"]


def test_what_the_excess_costs_a_day(report):
    assert running_cost(report).replace("\u00a0", " ") == "EUR 105 (97 to 113)"


def test_no_cost_where_none_is_known(report):
    table = report.balance.economics
    for lacking in (empty(annual_tables.ECONOMICS), table.assign(excess_day_currency=np.nan)):
        bare = replace(report, balance=replace(report.balance, economics=lacking))
        assert running_cost(bare) == ""


def test_nobody_surveys_a_zone_whose_excess_a_boundary_makes(report):
    moved = report.events.events.iloc[[0]].assign(
        kind="boundary", state="open", cell_id="Z1", other_cell_id="Z2"
    )
    sets = report.location.search_sets
    shifted = replace(
        report,
        events=replace(report.events, events=moved),
        location=replace(report.location, search_sets=sets[sets["cell_id"] != "Z1"]),
    )
    rows = {v["cell_id"]: v for v in visits(shifted)}
    assert rows["Z1"]["statement"] == APPARENT
    assert not rows["Z1"]["pays"]
    assert rows["Z1"]["pays_not"] == "-"
    assert rows["Z2"]["statement"] != APPARENT
    told = without_apparent(shifted).balance.economics.set_index("cell_id")["statement"]
    assert list(told.index[told == APPARENT]) == ["Z1"]
    assert "(Z1)" in answers(report)[1].answer
    assert "(Z1)" not in answers(shifted)[1].answer + answers(shifted)[1].detail
