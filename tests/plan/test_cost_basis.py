from __future__ import annotations

from dataclasses import replace
from typing import Any

from district.plan.cost_basis import cost_basis
from district.plan.outage import dry_users
from district.plan.parts import parts_of
from district.results import Basis, Isolation
from district.settings import District, Renew, Settings
from tests.plan.cost_scene import (
    isolation,
    layer_of,
    likelihood,
    network,
    table_of,
    zone_pressure,
)


def basis(
    pipes: Any = None, settings: Settings | None = None, cut: Isolation | None = None, **given: Any
) -> Basis:
    mains = layer_of().iloc[:4] if pipes is None else pipes
    parts = parts_of(mains["pipe_id"], network())
    whole = {
        "likelihood": likelihood(),
        "zone_pressure": zone_pressure(),
        "streets": table_of("streets", []),
        "surfaces": table_of("surfaces", []),
    } | given
    return cost_basis(
        mains,
        parts,
        dry_users(parts, cut or isolation()),
        *whole.values(),
        settings=settings or Settings(),
    )


def test_every_assumption_is_a_sentence_with_its_source_or_none() -> None:
    said = basis().assumptions
    assert all(s.endswith(".") for s in said)
    assert "Lambert et al. 1999, from memory" in said[0]
    assert sum("without a source" in s for s in said) == 4


def test_figures_are_those_of_the_settings() -> None:
    settings = Settings(
        district=District(currency="GBP"), renew=Renew(outage_h=5.0, cost_spread_share=0.2)
    )
    said = " ".join(basis(settings=settings).assumptions)
    assert "GBP\N{NO-BREAK SPACE}2\N{NO-BREAK SPACE}500" in said
    assert "an outage of 5 h" in said
    assert "may lie 20 % from that" in said


def test_what_limits_the_costs() -> None:
    assert basis().limits == (
        "Neither layer surfaces nor layer streets is there: a break under a main road, a railway "
        "or a building counts as any other.",
    )
    assumed = basis(layer_of(), zone_pressure=zone_pressure(rests_on="assumed"))
    assert assumed.limits[0] == (
        "Who would be without water is not known for main OLD: nobody is counted there."
    )
    assert assumed.limits[1] == "The pressure is assumed for 100 % of the length of the mains."


def test_a_map_whose_valves_part_nothing() -> None:
    whole = isolation()
    one = replace(whole, segment_pipes=whole.segment_pipes.assign(segment_id="T1"))
    said = "No valve of the map parts the mains: every break leaves all of them without water."
    assert basis(cut=one).limits[0] == said
    assert said not in basis().limits


def test_half_of_the_length_in_a_zone_without_a_logger() -> None:
    elsewhere = zone_pressure(cell_id="ELSE")
    assert any("100 %" in s for s in basis(zone_pressure=elsewhere).limits)
