"""Rows of the audit: the operations of a figure, and when they are shown."""

from __future__ import annotations

import numpy as np
import pytest

from district.balance.audit_rows import Figure, Row, audit_rows, link, worked_out
from district.balance.effects import REST
from district.estimates import estimate
from district.schema import check
from district.schema.audited import AUDIT


def rows() -> dict[str, Row]:
    return {
        "in": Row("meter", "measured", "L/s", [5.0, 5.0], [4.0, 4.0], [6.0, 6.0], "r", "+"),
        "use": Row("use", "allowance", "L/s", [1.0, np.nan], operation="-"),
        "times": Row("factor", "assumed", "", 3.0, operation="×"),
        "by": Row("size", "from the map", "", [2.0, 0.0], operation="÷"),
    }


def figure(value: list[float], **changes: object) -> Figure:
    half = np.array([1.5, 1.5])
    said = {"effects": {"in": (half, half)}, "rows": rows()} | changes
    shown = estimate(value, np.array(value) - 1.5, np.array(value) + 1.5)
    return Figure("leak", "L/s", "in less use", shown, **said)  # type: ignore[arg-type]


def test_a_figure_by_its_rows() -> None:
    made = worked_out(rows(), 2)
    assert made[0] == pytest.approx((5 - 1) * 3 / 2)
    assert not np.isfinite(made[1])
    assert np.isnan(worked_out({"times": rows()["times"]}, 1)[0])


def test_rows_as_declared_and_operations_only_where_they_give_the_figure() -> None:
    table = audit_rows(["A", "B"], [figure([6.0, 7.0])], inputs={})
    _, findings = check(AUDIT, table, source="audit")
    assert findings == ()
    first, second = (table[table["cell_id"] == c] for c in ("A", "B"))
    assert list(first["operation"]) == ["=", "+", "-", "×", "÷"]
    assert list(first["rank"]) == [0, 1, 2, 3, 4]
    assert list(second["operation"]) == ["=", ""]
    assert list(second["input"]) == ["", "meter"]
    assert first["variance_share"].sum() == pytest.approx(1.0)
    assert list(first["lowers"].dropna()) == [1.5]


def test_places_without_the_figure_have_no_rows() -> None:
    assert set(audit_rows(["A", "B"], [figure([6.0, np.nan])], inputs={})["cell_id"]) == {"A"}
    assert audit_rows(["A"], [], inputs={}).empty


def test_an_effect_takes_its_row_from_the_shared_inputs_without_its_operation() -> None:
    alone = figure([6.0, 6.0], rows={"of": link("x", estimate([6.0, 6.0]), unit="", operation="+")})
    table = audit_rows(["A", "B"], [alone], inputs=rows())
    assert list(table["input"][:3]) == ["", "x", "meter"]
    assert list(table["operation"][:3]) == ["=", "+", ""]


def test_what_is_not_told_apart_says_so() -> None:
    half = np.array([1.5, 1.5])
    table = audit_rows(["A", "B"], [figure([6.0, 6.0], effects={REST: (half, half)})], inputs={})
    assert "what is not told apart" in set(table["input"])
