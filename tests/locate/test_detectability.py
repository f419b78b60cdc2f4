"""Tests of `district.locate.detectability`."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from district.locate.detectability import MOST_L_S, REACH_L_S, detectability, zone_reach
from district.locate.outlook import Outlook, walks
from district.locate.shown import alarm_limit, independent_count
from district.night_noise import limit_for
from district.schema.columns import check
from district.schema.located import DETECTABILITY, ZONE_REACH
from district.settings import Events, Settings

Make = Callable[..., Outlook]
NAN = float("nan")
SETTINGS = Settings()


def test_the_inflow_shows_what_stands_out_of_the_zone_s_nights(outlook_of: Make) -> None:
    zone = outlook_of(error_l_s=0.05)
    table = detectability([zone], settings=SETTINGS)
    needed = limit_for(0.5)
    assert table["smallest_l_s"].to_numpy() == pytest.approx(0.05 * needed)
    assert table["smallest_l_s_low"].to_numpy() == pytest.approx(0.04 * needed)
    assert table["smallest_l_s_high"].to_numpy() == pytest.approx(0.065 * needed)
    assert set(table["shown_by"]) == {"inflow"}


def test_nothing_smaller_than_is_listed_is_shown(outlook_of: Make) -> None:
    settings = Settings(events=Events(smallest_l_s=0.4))
    table = detectability([outlook_of(error_l_s=0.001)], settings=settings)
    assert set(table["smallest_l_s"]) == {0.4}


def test_without_a_balance_and_loggers_nothing_is_shown_and_the_prior_is_walked(
    outlook_of: Make,
) -> None:
    zone = outlook_of(error_l_s=NAN)
    table = detectability([zone], settings=SETTINGS)
    assert table["smallest_l_s"].isna().all()
    assert set(table["shown_by"]) == {""}
    assert table["walk_m"].to_numpy() == pytest.approx(walks(zone, 1.0)[0])


def test_a_pipe_beside_a_logger_is_shown_earlier_than_one_further_off(outlook_of: Make) -> None:
    """Along the streets from the logger inwards, until the leak is where the zone draws anyway."""
    zone = outlook_of(loggers=(47,), error_l_s=NAN)
    table = detectability([zone], settings=SETTINGS).set_index("pipe_id")["smallest_l_s"]
    way = [(46, 47), (45, 46), (44, 45)]
    names = [
        zone.pipe_id[i]
        for step in way
        for i in range(len(zone.start))
        if (zone.start[i], zone.end[i]) == step
    ]
    smallest = table[names].to_numpy()
    assert (np.diff(smallest) > 0).all()
    assert smallest[0] < 0.5 * table.median()


def test_one_logger_more_shows_smaller_leaks(outlook_of: Make) -> None:
    """By pressure, where the tests of a zone share the rate: up to what that sharing costs."""
    some = detectability([outlook_of(loggers=(5, 20), error_l_s=NAN)], settings=SETTINGS)
    more = detectability([outlook_of(loggers=(5, 20, 47), error_l_s=NAN)], settings=SETTINGS)
    few, many = some["smallest_l_s"].fillna(MOST_L_S), more["smallest_l_s"].fillna(MOST_L_S)
    assert (many <= 1.08 * few).all()
    assert many.median() < few.median()


def test_the_smallest_by_pressure_is_found_by_the_tests_of_drawn_nights(outlook_of: Make) -> None:
    """Monte Carlo: sums of the loggers' departures towards each pipe's sign, alarm at the limit."""
    zone = outlook_of(loggers=(5, 20, 47), error_l_s=NAN, spread_share=0.0)
    heard = zone.heard
    assert heard is not None
    table = detectability([zone], settings=SETTINGS)
    change = heard.change_m.astype(float)
    # `noise` is of the mean of 14 nights; the level before is taken as known.
    night = np.linalg.cholesky(14 * heard.noise)
    signs = np.linalg.solve(night, change)
    unit = signs / np.sqrt((signs**2).sum(axis=0))
    limit = alarm_limit(0.5, tests_count=independent_count(signs, 0.5))
    random = np.random.default_rng(5)
    for j in (0, 40, len(zone.pipe_id) - 1):
        if np.isnan(table["smallest_l_s"][j]):
            continue
        shift = table["smallest_l_s"][j] * signs[:, j]
        taken = []
        for _ in range(200):
            score = (random.normal(size=(200, 3)) + shift) @ unit
            total, night_no = np.zeros(len(unit.T)), 0
            while not (total > limit).any() and night_no < 200:
                total = np.maximum(0.0, total + score[night_no] - 0.5)
                night_no += 1
            taken.append(night_no)
        assert 8 <= np.mean(taken) <= 15


def test_more_false_alarms_accepted_show_smaller_leaks(outlook_of: Make) -> None:
    zone = outlook_of(loggers=(5, 20, 47), error_l_s=NAN)
    often, seldom = (
        detectability([zone], settings=Settings(events=Events(false_alarms_per_year=rate)))
        for rate in (4.0, 0.1)
    )
    assert (often["smallest_l_s"] < seldom["smallest_l_s"]).sum() == often["smallest_l_s"].count()


def test_the_rows_are_in_order_and_as_declared(outlook_of: Make) -> None:
    second = replace(
        outlook_of(seed=3),
        cell_id="V0",
        pipe_id=tuple(f"N{i:04d}" for i in range(len(outlook_of().pipe_id))),
    )
    table = detectability([outlook_of(loggers=(5, 20)), second], settings=SETTINGS)
    assert table["pipe_id"].is_monotonic_increasing
    tidy, findings = check(DETECTABILITY, table, source="here")
    assert findings == ()
    assert len(tidy) == len(table)
    assert (table["walk_m_low"] <= table["walk_m"]).all()
    assert (table["walk_m"] <= table["walk_m_high"]).all()
    assert list(detectability([], settings=SETTINGS).columns) == list(table.columns)


def test_the_reach_of_a_zone_grows_with_the_leak(outlook_of: Make) -> None:
    table = zone_reach([outlook_of(loggers=(5, 20, 47), error_l_s=0.1)], settings=SETTINGS)
    assert table["leak_l_s"].tolist() == [0.2, 0.5, 1.0, 3.0]
    assert table["shown_share"].is_monotonic_increasing
    assert table["shown_share"].iloc[-1] == 1.0
    assert (table["shown_share_low"] <= table["shown_share"]).all()
    assert (table["shown_share"] <= table["shown_share_high"]).all()
    assert table["walk_share"].is_monotonic_decreasing
    assert (table["walk_share_low"] < table["walk_share"]).all()
    assert (table["walk_share"] < table["walk_share_high"]).all()
    tidy, findings = check(ZONE_REACH, table, source="here")
    assert findings == ()
    assert len(tidy) == 4


def test_the_share_shown_is_as_unsure_as_the_smallest_leak(outlook_of: Make) -> None:
    """By inflow alone every pipe has the same smallest leak, with the limits of its error."""
    zone = outlook_of(error_l_s=0.1)
    row = detectability([zone], settings=SETTINGS).iloc[0]
    size = row[["smallest_l_s_low", "smallest_l_s", "smallest_l_s_high"]].astype(float)
    assert size.is_monotonic_increasing
    shares = ["shown_share_low", "shown_share", "shown_share_high"]
    for near, wanted in (
        (0.99 * size.iloc[0], [0.0, 0.0, 0.0]),
        (0.99 * size.iloc[1], [0.0, 0.0, 1.0]),
        (0.99 * size.iloc[2], [0.0, 1.0, 1.0]),
        (1.01 * size.iloc[2], [1.0, 1.0, 1.0]),
    ):
        scale = REACH_L_S[1] / near
        wide = replace(
            zone,
            error_l_s=zone.error_l_s * scale,
            error_l_s_low=zone.error_l_s_low * scale,
            error_l_s_high=zone.error_l_s_high * scale,
        )
        found = zone_reach([wide], settings=SETTINGS).iloc[1]
        assert found[shares].tolist() == pytest.approx(wanted)


def test_a_zone_without_expected_leaks_has_no_reach(outlook_of: Make) -> None:
    zone = outlook_of()
    none = replace(zone, leaks_per_year=np.zeros_like(zone.leaks_per_year))
    assert zone_reach([none], settings=SETTINGS).empty
    assert not detectability([none], settings=SETTINGS).empty
