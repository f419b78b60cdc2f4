from __future__ import annotations

from district.render import explain
from district.schema.event_tables import EVENT_KINDS


def test_every_kind_of_event_has_words():
    assert set(explain.EVENT_WORDS) == set(EVENT_KINDS)


def test_terms_are_told_once():
    terms = [term for term, _ in explain.MEANINGS]
    assert len(terms) == len(set(terms))
    assert all(meaning.endswith(".") for _, meaning in explain.MEANINGS)


def test_a_tank_is_told_only_where_there_is_one():
    assert explain.TANK in explain.meanings(tanks=True)
    assert explain.meanings(tanks=False) == explain.MEANINGS
