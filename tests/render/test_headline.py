from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from district.render import headline


def said(report):
    return {a.question: (a.answer, a.detail) for a in headline.answers(report)}


def plain(text):
    return text.replace("\u00a0", " ")


def test_four_questions_answered(report):
    answers = said(report)
    # By hand: (1.5 + 0.45 + 0.35) * 77 = 177.1, limits 3 * 16 apart either way; the inflow is
    # 160 + 140 + 120 = 420, of which 177.1 is 42 %.
    assert plain(answers["How much leaks?"][0]) == "180 m³/day (130 to 230)"
    assert "about 42 % of what enters" in plain(answers["How much leaks?"][1])
    assert answers["Where?"][0] == "Upper <script>alert(1)</script> (Z1)"
    assert "No other zone is clearly above" in answers["Where?"][1]
    assert answers["Since when?"][0] == "2031-04-05"
    assert "between 2031-04-03 and 2031-04-06. 1 more event" in answers["Since when?"][1]
    assert "(Z1), new leak, 92 %, 1.10 L/s (0.98" in plain(answers["Since when?"][1])
    assert answers["Which stretches?"][0] == 'P11/<script>alert(1)</script>"&, P24, P21'
    # Z2's excess may be nothing: only the walk through Z1 is asked for.
    assert plain(answers["Which stretches?"][1]).endswith(
        "walk 0.730 km of 0.960 km of mains to pass each leak at 96 % probability."
    )


def test_what_the_excess_costs_stands_beside_it(report):
    detail = plain(said(report)["How much leaks?"][1])
    assert detail.endswith(", costing EUR 105 (97 to 113) a day while it runs.")
    unpriced = replace(report.balance, economics=report.balance.economics.iloc[:0])
    assert "costing" not in said(replace(report, balance=unpriced))["How much leaks?"][1]


def moved(report, **said):
    """The report with its largest event taken for a change of meter or boundary."""
    events = report.events.events
    largest = events.index == events["size_l_s"].idxmax()
    for name, value in {"kind": "boundary", "other_cell_id": "Z2", **said}.items():
        events = events.assign(**{name: events[name].astype(object).mask(largest, value)})
    return replace(report, events=replace(report.events, events=events))


def test_a_meter_or_boundary_is_no_leak_that_began(report):
    answer, detail = said(moved(report))["Since when?"]
    assert answer == "2031-04-05"
    assert plain(detail).startswith(
        "First to act on: Hall <script>alert(1)</script>, flow in a building that never stops, "
        "0.080 L/s (0.060"
    )
    assert plain(detail).endswith(" 1 event of a meter or boundary to check.")


def test_only_a_meter_or_boundary_leaves_no_new_leak(report):
    shifted = moved(report)
    events = shifted.events.events
    only = events[events["kind"] == "boundary"]
    calm = replace(shifted, events=replace(shifted.events, events=only))
    answer = said(calm)["Since when?"]
    assert answer == ("No new leak", "1 event of a meter or boundary to check.")


def test_where_says_how_far_a_meter_or_boundary_shifts_it(report):
    detail = plain(said(moved(report))["Where?"][1])
    assert (
        "A meter or boundary makes that 1.10 L/s (0.98 to 1.22) too much: check it too." in detail
    )


def test_total_is_unknown_without_any_figure(report):
    zones = report.balance.zones.assign(leakage_m3_d=np.nan)
    assert headline.total(zones, "leakage_m3_d") == (None, None, None)
    assert headline.total(report.balance.zones, "leakage_m3_d") == pytest.approx(
        (177.1, 129.1, 225.1)
    )


def test_nothing_wrong_is_said_plainly(report):
    calm = report.balance.zones.assign(excess_l_s_low=-0.1)
    quiet = replace(
        report,
        balance=replace(report.balance, zones=calm),
        events=replace(report.events, events=report.events.events.iloc[2:]),
        location=replace(
            report.location,
            likelihood=report.location.likelihood.iloc[:0],
            search_sets=report.location.search_sets.iloc[:0],
        ),
    )
    assert said(quiet)["Where?"][0] == "No zone stands out"
    assert said(quiet)["Since when?"][0] == "No new leak"
    assert said(quiet)["Which stretches?"][0] == "Nothing to search"
