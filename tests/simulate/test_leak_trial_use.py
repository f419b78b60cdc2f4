"""Use of a drawn zone, hour by hour."""

from __future__ import annotations

from functools import cache

import numpy as np
import pandas as pd
import pytest

from district.simulate.leak_trial_map import ZoneMap, furnish
from district.simulate.leak_trial_streets import draw_streets_of_zone
from district.simulate.leak_trial_use import draw_use, reference_use, tap_shares, wander

DAYS = pd.date_range("2025-03-03", periods=28)  # Begins on a Monday.


@cache
def zone_map(metered_share: float = 0.03) -> ZoneMap:
    rng = np.random.default_rng(6)
    streets = draw_streets_of_zone(
        rng, pipes_count=300, loops_share=0.17, block_m=60.0, gates_count=1
    )
    return furnish(rng, streets, loggers_count=3, metered_share=metered_share)


def test_each_connection_draws_at_both_ends_of_its_main() -> None:
    shares = tap_shares(zone_map())
    assert shares.sum(axis=1) == pytest.approx(1.0)
    place = zone_map().nodes[["x_m", "y_m"]].to_numpy()
    tap = zone_map().taps.iloc[0]
    start, end = zone_map().pipes[["start", "end"]].to_numpy()[tap["pipe"]]
    between = (1 - tap["share"]) * place[start] + tap["share"] * place[end]
    assert (shares @ place)[0] == pytest.approx(between)


def test_reference_use_is_the_mean_use_of_the_connections() -> None:
    taps, use = zone_map().taps, reference_use(zone_map())
    assert use.shape == (48, len(zone_map().nodes))
    assert use[:24].sum(axis=1).mean() == pytest.approx(taps["mean_l_s"].sum())


def test_the_night_is_low_and_people_sleep_longer_at_weekends() -> None:
    total = reference_use(zone_map()).sum(axis=1).reshape(2, 24)
    assert total[0].argmin() in (2, 3)
    assert 1.5 < total[0].max() / total[0].mean() < 2.5
    assert total[1, 6] < total[0, 6]


def test_the_drawn_hours_are_about_their_reference() -> None:
    use = draw_use(np.random.default_rng(1), zone_map(), DAYS)
    assert use.drawn_l_s.shape == (28 * 24, len(zone_map().nodes))
    assert (use.drawn_l_s >= 0).all()
    usual = use.usual_l_s[use.reference]
    assert use.drawn_l_s.sum() / usual.sum() == pytest.approx(1.0, abs=0.06)
    assert list(use.reference[::24]) == [24 if d.day_of_week >= 5 else 0 for d in DAYS]


def test_days_differ_and_hours_of_one_node_scatter_more_than_those_of_all() -> None:
    use = draw_use(np.random.default_rng(2), zone_map(), DAYS)
    used = use.usual_l_s.min(axis=0) > 0
    off = use.drawn_l_s[:, used] / use.usual_l_s[use.reference][:, used]
    together = use.drawn_l_s.sum(axis=1) / use.usual_l_s.sum(axis=1)[use.reference]
    assert 0.02 < together.std() < 0.12
    assert np.median(off.std(axis=0)) > 3 * together.std()


def test_metered_users_are_part_of_what_is_drawn() -> None:
    use = draw_use(np.random.default_rng(3), zone_map(), DAYS)
    metered = (zone_map().taps["meter_id"] != "").to_numpy()
    assert use.metered_l_s.shape == (28 * 24, metered.sum())
    at_nodes = use.metered_l_s @ tap_shares(zone_map())[np.flatnonzero(metered)]
    assert (use.drawn_l_s - at_nodes >= -1e-12).all()
    # A user's day and week scatter about its mean.
    mean = zone_map().taps.loc[metered, "mean_l_s"].to_numpy()
    assert use.metered_l_s.mean(axis=0).sum() / mean.sum() == pytest.approx(1.0, abs=0.35)


def test_a_zone_without_meters_read_by_the_hour() -> None:
    use = draw_use(np.random.default_rng(3), zone_map(0.0), DAYS)
    assert use.metered_l_s.shape == (28 * 24, 0)
    assert use.drawn_l_s.sum() > 0


def test_a_wander_keeps_its_spread_and_its_memory() -> None:
    drawn = wander(np.random.default_rng(1), 0.2, 0.9, (4000, 30))
    assert drawn.std(axis=0) == pytest.approx(0.2, rel=0.06)
    assert np.corrcoef(drawn[:, 10], drawn[:, 11])[0, 1] == pytest.approx(0.9, abs=0.02)
