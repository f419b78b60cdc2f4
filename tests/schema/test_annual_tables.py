from __future__ import annotations

from district.schema.annual_tables import ECONOMICS, GAP_CAUSES, LOSS_GAPS


def test_every_area_stands_once_and_every_cause_once_an_area() -> None:
    assert LOSS_GAPS.key == ECONOMICS.key == ("cell_id",)
    assert GAP_CAUSES.key == ("cell_id", "input")


def test_what_differs_by_zone_and_record_has_limits() -> None:
    names = ECONOMICS.names()
    bare = {n for n in names if f"{n}_low" not in names and not n.endswith(("_low", "_high"))}
    assert bare == {
        "cell_id", "rank", "statement", "rise_note", "mains_km", "survey_currency",
        "water_currency_m3",
    }  # fmt: skip
