"""Sentences true to what was used."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from district.locate.basis import basis_of
from district.locate.prior import Prior, leak_prior
from district.locate.spots import Evidence, Heard, Sought
from district.locate.zone_search import ZoneSearch, search_zone
from district.settings import Settings
from tests.locate.streets import even, likely, walk

Make = Callable[..., Any]
STREET = walk([100.0, 100.0])
LEAK = Sought("E1", "V1", "leak", 0.6, 0.5, 0.7)


@pytest.fixture
def prior(network_of: Make, pipes_of: Make, breaks_of: Make) -> Prior:
    return leak_prior(network_of(pipes_of(9, cells=1, seed=1)), breaks_of([]), year=2024)


def searched(*evidence: Evidence, leaks: tuple[Sought, ...] = (LEAK,)) -> ZoneSearch:
    told = {s.sought_id: list(evidence) for s in leaks}
    return search_zone("V1", STREET, even(STREET), leaks, told, prior_said="", hold_share=0.9)


def said(prior: Prior, breaks_of: Make, *searches: ZoneSearch) -> str:
    basis = basis_of(prior, breaks_of([]), searches, None, Settings())
    return " ".join((*basis.assumptions, *basis.limits))


def test_only_what_was_used_is_named(prior: Prior, breaks_of: Make) -> None:
    size = Evidence("E1", "size", "small", likely(20, 3, 5.0))
    pressure = Evidence("E1", "pressure", "fell", likely(20, 3, 5.0))
    unused = replace(pressure, used=False)
    assert "published flows of bursts" not in said(prior, breaks_of, searched())
    assert "within a factor of 5" in said(prior, breaks_of, searched(size))
    assert "two at once in 10" in said(prior, breaks_of, searched(pressure))
    assert "two at once" not in said(prior, breaks_of, searched(unused))
    survey = replace(pressure, kind="survey")
    assert "Taken of surveys by common practice" in said(prior, breaks_of, searched(survey))
    assert "Taken of" not in said(prior, breaks_of, searched(replace(survey, used=False)))


def test_a_walk_that_rests_on_expected_leaks_alone_says_so(prior: Prior, breaks_of: Make) -> None:
    size = Evidence("E1", "size", "small", likely(20, 3, 5.0))
    found = Evidence("E1", "correlator", "heard", likely(20, 3, 5.0))
    assert "1 leak looked for with no reading" in said(prior, breaks_of, searched(size))
    assert "looked for with no reading" not in said(prior, breaks_of, searched(size, found))
    assert "looked for with no reading" not in said(prior, breaks_of)


def test_the_order_over_several_leaks_is_told(prior: Prior, breaks_of: Make) -> None:
    two = searched(leaks=(LEAK, replace(LEAK, sought_id="E2")))
    assert "over all of them" in said(prior, breaks_of, two)
    assert "over all of them" not in said(prior, breaks_of, searched())


def test_what_the_model_of_the_pipes_takes_for_granted_is_told(
    prior: Prior, breaks_of: Make, heard_of: Make
) -> None:
    heard: Heard = heard_of()
    assumed = tuple(f"Valve V{n} is taken as open." for n in range(11))

    def said_of(**known: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
        drawn = replace(heard.calibrated.drawn, assumed=assumed)
        fitted = replace(heard.calibrated, drawn=drawn, **known)
        found = basis_of(prior, breaks_of([]), (), replace(heard, calibrated=fitted), Settings())
        return found.assumptions, found.limits

    assumptions, limits = said_of(warning="Look for shut valves.")
    assert "The model of the pipes: Valve V0 is taken as open." in assumptions
    assert "Valve V7 is taken as open." in assumptions
    assert assumptions[-1] == "And 3 more assumptions of the kind."
    assert "Look for shut valves." in limits
    assumptions, limits = said_of(reason="No zone meter is read by the hour.", warning="Look.")
    assert not any("taken as open" in said for said in assumptions)
    assert "Look." not in limits
