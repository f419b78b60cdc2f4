from __future__ import annotations

import pandas as pd

from district.render.audit_formulas import live_rows
from tests.render.audit_table import DAILY, HOURS, LEAK, RATIO, hand_audit


def live(table: pd.DataFrame) -> dict[tuple[str, str], tuple[int, object]]:
    rows = table.to_dict("records")
    made = live_rows(rows, first=3)
    return {
        (r["figure"], r["input"]): (at, one)
        for at, (r, one) in enumerate(zip(rows, made, strict=True), 3)
    }


def test_a_figure_is_a_formula_of_its_rows() -> None:
    cells = live(hand_audit())
    at, leak = cells[(LEAK, "")]
    assert at == 3
    assert leak.formulas == {
        "value": "=(F4-F5)",
        "value_low": "=F3-SQRT(SUMSQ(J4:J5))",
        "value_high": "=F3+SQRT(SUMSQ(K4:K5))",
    }
    assert cells[(DAILY, "")][1].formulas["value"] == "=(F9)*F10*F11"
    assert cells[(RATIO, "")][1].formulas["value"] == "=(F16)/F17"


def test_links_and_repeated_inputs_point_to_where_they_are_told() -> None:
    cells = live(hand_audit())
    _, link = cells[(DAILY, LEAK)]
    assert link.formulas == {"value": "=F3", "value_low": "=G3", "value_high": "=H3"}
    assert link.said == "link"
    _, again = cells[(DAILY, "use")]
    assert again.formulas["value"] == "=F5"
    assert again.said == "input told above"
    assert cells[(LEAK, "use")][1].said == "input"


def test_effects_follow_the_links() -> None:
    cells = live(hand_audit())
    assert cells[(LEAK, "use")][1].formulas["lowers"] == "=(H5-F5)"
    assert cells[(DAILY, "use")][1].formulas["lowers"] == "=J5*F10*F11"
    assert cells[(DAILY, "exponent")][1].formulas["raises"] == "=K7*ABS(F8/F10)"
    share = cells[(LEAK, "use")][1].formulas["variance_share"]
    assert share == "=SUMSQ(J5:K5)/SUMSQ(J4:K5)"


def test_what_cells_do_not_make_stays_a_number_and_says_so() -> None:
    cells = live(hand_audit())
    assert "value" not in cells[(HOURS, "")][1].formulas
    assert cells[(HOURS, "")][1].said.startswith("number")
    rest = cells[(RATIO, "what is not told apart")][1]
    assert "lowers" not in rest.formulas
    assert rest.said == "input; its effect is a number"


def test_a_figure_that_its_rows_do_not_give_is_left() -> None:
    table = hand_audit()
    table.loc[0, "value"] = 3.1
    assert "value" not in live(table)[(LEAK, "")][1].formulas


def test_use_cut_off_at_zero() -> None:
    table = hand_audit()
    table.loc[0, ["value_low", "value"]] = 0.0
    cells = live(table)
    assert cells[(LEAK, "")][1].formulas["value_low"] == "=MAX(0,F3-SQRT(SUMSQ(J4:J5)))"


def test_two_places_do_not_mix() -> None:
    both = pd.concat([hand_audit(), hand_audit("Z2")], ignore_index=True)
    made = live_rows(both.to_dict("records"), first=3)
    half = len(both) // 2
    assert made[half].formulas["value"] == f"=(F{3 + half + 1}-F{3 + half + 2})"
    assert made[half + 1].said == "input"
    assert live_rows([], first=3) == []
