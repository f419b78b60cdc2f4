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
