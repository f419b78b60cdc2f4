"""Leaks and breaks of a drawn zone fall by one hidden hazard."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from district.simulate.leak_trial_hazard import Hazard, draw_breaks, draw_hazard, draw_places
from district.simulate.leak_trial_map import YEAR, ZONE, ZoneMap, furnish
from district.simulate.leak_trial_streets import draw_streets_of_zone


@cache
def zone_map() -> ZoneMap:
    rng = np.random.default_rng(5)
    streets = draw_streets_of_zone(
        rng, pipes_count=800, loops_share=0.17, block_m=60.0, gates_count=1
    )
    return furnish(rng, streets, loggers_count=3, metered_share=0.0)


def hazards(count: int, drawn: ZoneMap | None = None) -> list[Hazard]:
    return [draw_hazard(np.random.default_rng([7, n]), drawn or zone_map()) for n in range(count)]


def test_mean_rates_are_the_published_ones() -> None:
    # Folkman 2018 (material rates from memory): cast iron 34.8, PVC 2.3 breaks per 100 miles a
    # year. Age and bore are set so that their factors are 1, but for their own spread.
    plain = zone_map().pipes.assign(installed_year=YEAR - 50.0, diameter_mm=150.0)
    drawn = replace(zone_map(), pipes=plain)
    mean = np.mean([h.mains_per_year for h in hazards(300, drawn)], axis=0)
    for material, rate in (("cast_iron", 34.8), ("pvc", 2.3)):
        own = (drawn.pipes["material"] == material) & (drawn.pipes["cell_id"] == ZONE)
        per_100_miles = mean[own].sum() / (drawn.pipes.loc[own, "length_m"].sum() / 160_934.4)
        assert per_100_miles == pytest.approx(rate, rel=0.2)


def test_mean_rate_of_connections_is_the_published_one() -> None:
    # Lambert et al. 1999 (from memory): 3 a year for 1000 connections, 2 more for 15 m each of
    # private pipe.
    mean = np.mean([h.taps_per_year.mean() for h in hazards(300)])
    private_m = zone_map().taps["private_pipe_m"].mean()
    assert 1000 * mean == pytest.approx(3.0 + 2.0 * private_m / 15, rel=0.15)


def test_nothing_breaks_outside_the_zone() -> None:
    outside = (zone_map().pipes["cell_id"] != ZONE).to_numpy()
    assert (hazards(1)[0].mains_per_year[outside] == 0).all()


def test_breaks_are_as_many_as_the_hazard_and_the_years_make() -> None:
    hazard = hazards(1)[0]
    rng = np.random.default_rng(1)
    counts = [len(draw_breaks(rng, zone_map(), hazard)) for _ in range(40)]
    years = (YEAR - zone_map().pipes["installed_year"].to_numpy() - 1).clip(0, 20)
    taps = zone_map().taps["pipe"].to_numpy()
    expected = (hazard.mains_per_year * years).sum() + (hazard.taps_per_year * years[taps]).sum()
    assert np.mean(counts) == pytest.approx(expected, abs=4 * np.sqrt(expected / 40))


def test_no_pipe_breaks_before_it_is_laid_or_after_the_record() -> None:
    breaks = draw_breaks(np.random.default_rng(2), zone_map(), hazards(1)[0])
    laid = zone_map().pipes["installed_year"].reindex(breaks["pipe_id"]).to_numpy()
    assert (breaks["date"].dt.year.to_numpy() >= laid).all()
    assert (breaks["date"].dt.year < YEAR).all()


def test_leaks_fall_by_the_hazard() -> None:
    hazard = hazards(1)[0]
    places = draw_places(np.random.default_rng(3), zone_map(), hazard, count=20_000, flow_l_s=1.0)
    by_taps = np.bincount(zone_map().taps["pipe"], hazard.taps_per_year, len(zone_map().pipes))
    for kind, rate in (("main", hazard.mains_per_year), ("service", by_taps)):
        seen = np.bincount(places.loc[places["kind"] == kind, "pipe"], minlength=len(rate))
        expected = seen.sum() * rate / rate.sum()
        many = expected > 10
        # Poisson: the squares of standardised differences are 1 on average.
        squares = (seen[many] - expected[many]) ** 2 / expected[many]
        assert squares.mean() == pytest.approx(1.0, abs=4 * np.sqrt(2 / many.sum()))


def test_large_leaks_are_rather_on_mains() -> None:
    # Bursts of mains pass 12 m3/h, of connections 1.6 at 50 m (Lambert et al. 1999, from memory).
    hazard, rng = hazards(1)[0], np.random.default_rng(5)
    mains = [
        (draw_places(rng, zone_map(), hazard, count=2000, flow_l_s=q)["kind"] == "main").mean()
        for q in (0.2, 1.0, 4.0)
    ]
    assert mains[0] < mains[1] < mains[2]


def test_a_leak_of_a_connection_is_where_one_leaves_its_main() -> None:
    places = draw_places(
        np.random.default_rng(4), zone_map(), hazards(1)[0], count=200, flow_l_s=0.4
    )
    taps = set(zip(zone_map().taps["pipe"], zone_map().taps["share"], strict=True))
    own = places[places["kind"] == "service"]
    assert len(own)
    assert {(p, s) for p, s in zip(own["pipe"], own["share"], strict=True)} <= taps
