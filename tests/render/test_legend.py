from __future__ import annotations

from district.render import legend, palette
from district.render.text import bound


def test_classes_carry_their_unit_and_order():
    drawn = legend.legend(shown={"valve_shut", "source"})
    assert "Leak probability by 100 m of pipe" in drawn
    assert "Excess night flow of the zone, L/s" in drawn
    places = [drawn.index(f"<span>{bound(label)}</span>") for label in palette.PROBABILITY.labels]
    assert places == sorted(places, reverse=True)


def test_a_tank_is_named_for_what_it_is():
    assert "tank inside a zone, its level read" in legend.legend(shown={"tank_level"})


def test_only_symbols_on_the_map_are_listed():
    drawn = legend.legend(shown={"valve_shut"})
    assert "valve, shut" in drawn
    assert "zone meter" not in drawn


def test_the_plan_of_renewal_names_its_classes_and_the_risk_only_where_drawn():
    risk = palette.risk_classes(3.0)
    drawn = legend.renewal_legend(risk, "<EUR>")
    assert "Breaks expected a year by 100 km" in drawn
    assert "Cost of breaks a year by metre, &lt;EUR&gt;" in drawn
    places = [drawn.index(f"<span>{label}</span>") for label in palette.BREAKS.labels]
    assert places == sorted(places, reverse=True)
    assert "when-risk" not in legend.renewal_legend(None, "EUR")
