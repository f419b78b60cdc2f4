from __future__ import annotations

from itertools import combinations
from xml.etree import ElementTree

from district.render import symbols
from district.schema.inputs import SENSOR_KINDS


def test_every_symbol_is_sound_and_unlike_the_others_in_outline():
    outlines = {}
    for name, drawing in symbols.DRAWN.items():
        tree = ElementTree.fromstring(drawing)
        outlines[name] = tuple((e.tag, e.get("d"), e.get("fill"), e.text) for e in tree.iter())
    for a, b in combinations(outlines, 2):
        assert outlines[a] != outlines[b]


def test_valves_say_state_and_whether_they_turn():
    assert symbols.valve_symbol("open", True) == "valve_open"
    assert symbols.valve_symbol("shut", None) == "valve_shut"
    assert symbols.valve_symbol("open", False) == "valve_open_stuck"
    assert symbols.valve_symbol("shut", 0.0) == "valve_shut_stuck"


def test_a_valve_that_shuts_by_itself_is_told_apart_in_each_state():
    names = {
        symbols.valve_symbol(state, turns, automatic=True)
        for state in ("open", "shut")
        for turns in (True, False)
    }
    assert len(names) == 4
    assert names <= set(symbols.DRAWN) & set(symbols.MEANS)
    assert all(symbols.is_automatic(name) for name in names)
    assert not symbols.is_automatic(symbols.valve_symbol("open", True))


def test_each_role_and_kind_has_a_drawing():
    for role in ("inlet", "transfer", "outlet", "building", "customer"):
        assert symbols.meter_symbol(role) in symbols.DRAWN
    for kind in (*SENSOR_KINDS, "else"):
        assert symbols.sensor_symbol(kind) in symbols.MEANS
    assert {symbols.sensor_symbol(kind) for kind in SENSOR_KINDS} == set(SENSOR_KINDS)
    assert set(symbols.MEANS) <= set(symbols.DRAWN)
