"""Tests of `district.isolate.weights`."""

from __future__ import annotations

import numpy as np
import pytest

from district.isolate.weights import KINDS, connection_pipes, loss_columns, summed, weights_of
from district.schema.isolate_tables import LOSSES
from district.settings import Settings
from tests.isolate.towns import town

SETTINGS = Settings()


def test_pipes_count_by_length_and_connections_by_properties_and_use() -> None:
    network = town(of_houses={"H1": {"critical": True}})
    pipes, taps = weights_of(network, settings=SETTINGS)
    assert pipes[:, KINDS.index("length_m")].sum() == pytest.approx(700.0)
    assert pipes[:, KINDS.index("pipes_count")].sum() == 13
    row = network.connections.index.get_loc("H7")
    a_day = SETTINGS.allowances["household"].l_property_d
    assert taps[row, KINDS.index("properties_count")] == 32
    assert taps[row, KINDS.index("use_l_s")] == pytest.approx(32 * a_day / 86_400)
    assert taps[:, KINDS.index("critical_count")].sum() == 1


def test_a_connection_on_no_pipe_counts_nowhere() -> None:
    network = town(houses={"H1": ((50, 5), 1), "H9": ((50, 5000), 9)})
    pipe = connection_pipes(network)
    assert pipe[network.connections.index.get_loc("H9")] == -1
    _, taps = weights_of(network, settings=SETTINGS)
    total = summed(pipe, taps, len(network.pipes)).sum(axis=0)
    assert total[KINDS.index("properties_count")] == 1


def test_limits_of_use_add_up_as_of_independent_users() -> None:
    weight = np.zeros((1, len(KINDS)))
    weight[0, KINDS.index("use_l_s")] = 10.0
    weight[0, KINDS.index("use_variance")] = 3.0**2 + 4.0**2
    columns = loss_columns(weight)
    assert columns["use_l_s_low"] == pytest.approx(5.0)
    assert columns["use_l_s_high"] == pytest.approx(15.0)
    assert list(columns) == [c.name for c in LOSSES]
    assert list(loss_columns(weight, "more")) == [f"more_{c.name}" for c in LOSSES]


def test_use_is_never_less_than_none() -> None:
    weight = np.zeros((1, len(KINDS)))
    weight[0, KINDS.index("use_variance")] = 1.0
    assert loss_columns(weight)["use_l_s_low"].tolist() == [0.0]


def test_people_are_as_told_or_by_household_and_of_other_uses_not_counted() -> None:
    network = town(
        of_houses={"H2": {"people": 7.0}, "H5": {"use_class": "campus"}, "H7": {"people": None}}
    )
    _, taps = weights_of(network, settings=SETTINGS)
    columns = [KINDS.index(f"people_count{end}") for end in ("", "_low", "_high")]
    by_house = dict(zip(network.connections.index, taps[:, columns].tolist(), strict=True))
    assert by_house["H2"] == [7.0, 7.0, 7.0]
    assert by_house["H5"] == [0.0, 0.0, 0.0]
    assert by_house["H7"] == pytest.approx([76.8, 46.08, 107.52])  # 32 x 2.4, less and more 40 %
