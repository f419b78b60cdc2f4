"""Bayes' rule over causes, against arithmetic by hand."""

from __future__ import annotations

from math import log

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from district.detect.causes import BUILDING_PRIOR, PRIOR, Weighed, causes_table, weigh
from district.detect.evidence import Evidence
from district.schema.event_tables import CAUSE_KINDS, EVENT_CAUSES, EVENT_KINDS


def test_priors_are_probabilities_of_declared_kinds() -> None:
    assert set(PRIOR) == set(CAUSE_KINDS)
    assert set(BUILDING_PRIOR) < set(EVENT_KINDS)
    for prior in (PRIOR, BUILDING_PRIOR):
        assert sum(prior.values()) == pytest.approx(1.0)


def test_nothing_seen_leaves_the_prior() -> None:
    found = weigh(PRIOR, [])
    assert found.shares == pytest.approx(PRIOR)
    assert set(found.reasons.values()) == {"nothing speaks clearly for or against it"}


def test_bayes_rule_by_hand() -> None:
    # Gelman et al., Bayesian Data Analysis, 1.4 (from memory): her brother has haemophilia; with
    # prior 1/2 and two unaffected sons the mother carries it with probability 1/5.
    sons = Evidence("two sons without it", {"carrier": log(0.25)})
    assert weigh({"carrier": 0.5, "not": 0.5}, [sons]).shares["carrier"] == pytest.approx(0.2)
    third = Evidence("a third", {"carrier": log(0.5)})
    assert weigh({"carrier": 0.5, "not": 0.5}, [sons, third]).shares["carrier"] == pytest.approx(
        1 / 9
    )


def test_leaks_step_or_growing_count_as_one_first() -> None:
    shares = {"leak": 0.3, "growing_leak": 0.25, "use": 0.4, "unknown": 0.05}
    none = dict.fromkeys(shares, "")
    found = Weighed(shares, none, none)
    assert found.kind() == "leak"
    assert found.leak_share() == pytest.approx(0.55)


@given(st.lists(st.floats(0.01, 1.0), min_size=6, max_size=6))
def test_unknown_is_never_the_name_of_a_likely_leak(parts: list[float]) -> None:
    shares = dict(zip(CAUSE_KINDS, np.array(parts) / sum(parts), strict=True))
    none = dict.fromkeys(shares, "")
    found = Weighed(shares, none, none)
    if found.leak_share() >= 0.5:
        assert found.kind() in ("leak", "growing_leak")


def test_reasons_tell_what_speaks_for_and_against() -> None:
    seen = [Evidence("it rained", {"use": 3.0}), Evidence("of no weight", {"use": 0.1})]
    found = weigh(PRIOR, seen)
    assert found.reasons["use"] == "for it: it rained"
    assert found.speaking["use"] == "it rained"
    assert found.reasons["leak"] == "nothing speaks clearly for or against it"
    ruled = weigh(PRIOR, [Evidence("it is dry", {"use": -3.0})])
    assert ruled.reasons["use"] == "against it: it is dry"
    assert ruled.speaking["use"] == ""
    both = weigh(PRIOR, [*seen, Evidence("it is dry", {"use": -3.0})])
    assert both.reasons["use"] == "for it: it rained. Against it: it is dry"


def test_what_tells_of_a_leak_tells_of_a_building_flow() -> None:
    gone = Evidence("gone by itself", {"leak": -3.0, "use": 0.0})
    assert weigh(BUILDING_PRIOR, [gone]).kind() == "use"


def test_the_table_is_as_declared_and_sums_to_one() -> None:
    table = causes_table([("E-V1", weigh(PRIOR, [])), ("E-V2", weigh(BUILDING_PRIOR, []))])
    assert tuple(table.columns) == EVENT_CAUSES.names()
    assert table.groupby("event_id")["probability_share"].sum().to_numpy() == pytest.approx(1.0)
    assert list(table["kind"][:2]) == ["leak", "growing_leak"]
    assert tuple(causes_table([]).columns) == EVENT_CAUSES.names()
