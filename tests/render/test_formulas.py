from __future__ import annotations

import pandas as pd

from district.render.formulas import balance_terms


def balance(*lines):
    columns = ["component", "level", "volume_m3", "rests_on"]
    return pd.DataFrame(lines, columns=columns).assign(cell_id="district")


def test_differences_and_sums_are_found(report):
    annual = report.balance.annual
    terms = balance_terms(annual)
    named = {
        annual.component[row]: (
            [annual.component[r] for r in plus],
            [annual.component[r] for r in minus],
        )
        for row, (plus, minus) in terms.items()
        if row < 9
    }
    assert named == {
        "Water losses": (["System input volume"], ["Authorised consumption"]),
        "Apparent losses": (
            ["Unauthorised consumption", "Customer meter under-registration"],
            [],
        ),
        "Real losses": (["Water losses"], ["Apparent losses"]),
    }
    assert {row - 9 for row in terms if row >= 9} == {row for row in terms if row < 9}


def test_a_figure_its_neighbours_do_not_explain_stays_a_number():
    assert balance_terms(balance(("all", 0, 10.0, "measured"), ("a", 1, 4.0, "difference"))) == {}


def test_the_line_across_the_tree_is_found_by_its_name():
    lines = balance(
        ("system input volume", 0, 100.0, "measured"),
        ("authorised consumption", 1, 70.0, "difference"),
        ("billed authorised consumption", 2, 65.0, "measured"),
        ("unbilled authorised consumption", 2, 5.0, "assumed"),
        ("water losses", 1, 30.0, "difference"),
        ("non-revenue water", 1, 35.0, "difference"),
        ("real losses, bottom-up", 2, 28.0, "measured"),
    )
    assert balance_terms(lines) == {1: ((2, 3), ()), 4: ((0,), (1,)), 5: ((3, 4), ())}


def test_no_cell_refers_to_itself_through_others():
    # b could be all less a, but all is already the sum of both.
    lines = balance(
        ("all", 0, 10.0, "difference"), ("a", 1, 4.0, "measured"), ("b", 1, 6.0, "difference")
    )
    assert balance_terms(lines) == {0: ((1, 2), ())}
