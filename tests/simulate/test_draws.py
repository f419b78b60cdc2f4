import numpy as np
import pandas as pd
import pytest

from district.simulate.draws import (
    background_l_s,
    customer_weights,
    drawn_at_nodes,
    other_use,
)
from district.simulate.scenario import ZONE_IDS


@pytest.fixture(scope="module")
def drawn(year):
    return drawn_at_nodes(
        year.clock,
        year.layout,
        year.true,
        year.customers,
        year.use,
        weights=year.weights,
        buildings_l_s=year.use.building_l_s,
        other_l_s=other_use(year.clock),
    )


def test_nodes_draw_what_their_zone_draws(year, drawn):
    steps = slice(4000, 4400)
    nodes = drawn.node_l_s(steps)
    campus = year.customers.connections.dropna(subset="building_id").set_index("meter_id")
    other = other_use(year.clock)
    for zone in ZONE_IDS:
        own = year.use.customer_l_s.xs(zone, axis=1, level="zone_id").iloc[steps].sum(axis=1)
        meters = campus.index[campus["zone_id"] == zone]
        own = own + year.use.building_l_s[meters].iloc[steps].sum(axis=1) + other[zone].iloc[steps]
        np.testing.assert_allclose(nodes[:, year.true.node_zone == zone].sum(axis=1), own)
    assert (nodes >= 0).all()
    assert (nodes[:, year.true.node_zone == ""] == 0).all()


def test_the_mean_is_that_of_the_steps(year, drawn):
    during = np.zeros(len(year.clock.utc), dtype=bool)
    during[2900:3100] = True  # January and February.
    parts = [drawn.node_l_s(slice(2900, 2976)), drawn.node_l_s(slice(2976, 3100))]
    np.testing.assert_allclose(drawn.mean_l_s(during), np.vstack(parts).mean(axis=0), atol=1e-12)


def test_draws_are_asked_for_within_one_month(drawn):
    with pytest.raises(ValueError, match="one month"):
        drawn.node_l_s(slice(2970, 2980))


def test_weights_share_out_each_group_in_every_month(year):
    weights = customer_weights(year.customers, year.use, np.random.default_rng(1))
    assert set(weights) == set(year.use.customer_l_s.columns)
    for (zone, use), share in weights.items():
        connections = year.customers.connections
        own = connections[(connections["zone_id"] == zone) & (connections["use_class"] == use)]
        assert list(share.index) == list(own["connection_id"])
        np.testing.assert_allclose(share.sum(), 1.0)


def test_background_is_the_published_components_times_the_zones_factor(year):
    factors = dict.fromkeys(ZONE_IDS, 2.0)
    found = background_l_s(year.true, year.customers, factors)
    # 20 L/km/h of mains, 1.25 L/connection/h, 33 L/km/h of private pipe at 50 m of pressure:
    # Lambert et al. 1999, J Water SRT - Aqua 48(6), from memory.
    pipes = year.layout.pipes
    stub = float(pipes.loc[pipes["part"] == "stub"].geometry.length.iloc[0])
    mains_km = (pipes.geometry.length.sum() - stub / 2) / 1000
    connections = year.customers.connections
    private_km = connections["private_pipe_m"].sum() / 1000
    expected = 2 * (20 * mains_km + 1.25 * len(connections) + 33 * private_km) / 3600
    assert found.sum() == pytest.approx(expected, rel=1e-3)
    assert (found[year.true.node_zone == ""] == 0).all()


def test_works_and_the_pool_draw_from_hydrants_while_they_last(year):
    other = other_use(year.clock)
    assert isinstance(other, pd.DataFrame)
    assert other["V1"].sum() * 900 == pytest.approx(
        (6.0 * 3 + 1 / 3 * 6.0 + 2.0 * 2.5) * 3600, rel=0.05
    )
    assert other["C1"].max() == 2.5
    assert (other["C3"] == 0).all()
