"""Every repair is found where it was put in, and none where nothing was."""

from __future__ import annotations

from collections.abc import Callable

import geopandas as gpd
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from shapely.geometry import LineString

from district.network import Network, build_network
from district.network.repairs import repairs_table
from district.results import Inputs, no_repairs
from district.schema.outputs import REPAIRS
from district.settings import Settings
from tests.examples import examples
from tests.network.conftest import PIPES, layer, make_inputs

Layers = Callable[..., Inputs]


def _network(**lines: list[tuple[float, float]]) -> Network:
    """The small district with more pipes."""
    inputs = make_inputs()
    more = layer(PIPES, pipe_id=list(lines), geometry=[LineString(c) for c in lines.values()])
    pipes = pd.concat([inputs.pipes, more], ignore_index=True) if lines else inputs.pipes
    return build_network(make_inputs(pipes=gpd.GeoDataFrame(pipes)), settings=Settings())


def _told(network: Network) -> list[tuple[str, str, str, float]]:
    rows = network.repairs[network.repairs["what"] != "split_at_device"]
    return [
        (what, pipe_id, other_id, round(distance_m, 3))
        for what, pipe_id, other_id, distance_m in rows[
            ["what", "pipe_id", "other_id", "distance_m"]
        ]
        .fillna({"distance_m": -1.0})
        .itertuples(index=False)
    ]


def test_a_clean_drawing_has_only_its_devices() -> None:
    network = _network()
    assert _told(network) == []
    devices = network.repairs.set_index("other_id")
    assert devices["pipe_id"].to_dict() == {"M1": "T1", "M2": "A2", "V1": "B3", "V2": "A2"}
    assert devices.loc["V2"].geometry.coords[:] == [(205.0, 0.0)]
    assert tuple(network.repairs.columns) == REPAIRS.names()
    assert network.repairs.crs == network.pipes.crs


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ([(600.3, 0), (700, 0)], [("snapped_end", "X", "B2", 0.3)]),
        ([(600.0005, 0), (700, 0)], []),
        ([(500, 0.4), (500, 90)], [("tee", "X", "B2", 0.4)]),
        ([(500, 0), (500, 90)], [("tee", "X", "B2", 0.0)]),
        ([(500, 9), (500, 9)], [("zero_length", "X", "", 0.0)]),
        ([(600, 0.2), (400, 0.1)], [("duplicate", "X", "B2", 0.2)]),
        ([(600, 0), (600.3, 0)], [("snapped_end", "X", "B2", 0.3), ("short_pipe", "X", "", 0.3)]),
        ([(600, 0), (640, 0), (640, 30), (600, 0)], [("self_loop", "X", "", -1)]),
        ([(400, 0), (500, 30), (600, 0)], [("parallel", "X", "B2", -1)]),
        ([(500, -50), (500, 50)], [("crossing", "B2", "X", -1)]),
        ([(500, 30), (550, -10), (580, 5), (595, -9)], [("crossing", "B2", "X", -1)] * 3),
        ([(600, 0), (640, 0), (640, 20), (620, 20), (620, -30)], [("crossing", "X", "X", -1)]),
        (
            [(600, 0), (640, 0), (640, 20), (620, 20), (620, 0)],
            [("tee", "X", "X", 0.0), ("self_loop", "X", "", -1)],
        ),
        # An end drawn a little over the pipe it meets crosses it, and is joined to it.
        ([(500, -0.3), (500, 90)], [("tee", "X", "B2", 0.3)]),
        ([(699, 0), (601.2, 0.4)], []),
    ],
)
def test_what_was_put_in_is_found(
    line: list[tuple[float, float]], expected: list[tuple[str, str, str, float]]
) -> None:
    assert _told(_network(X=line)) == expected


def test_the_place_of_a_crossing() -> None:
    rows = _network(X=[(500, -50), (500, 50)]).repairs
    assert rows[rows["what"] == "crossing"].geometry.iloc[0].coords[:] == [(500.0, 0.0)]


def test_parts_of_one_ring_are_no_twins() -> None:
    # The ring is split where the spur ends on it: its two parts share both nodes.
    network = _network(R=[(600, 0), (640, 0), (640, 30), (600, 0)], S=[(640, 15), (690, 15)])
    assert _told(network) == [("tee", "S", "R", 0.0)]


def test_an_abandoned_pipe_has_no_part_in_it() -> None:
    inputs = make_inputs()
    more = layer(
        PIPES,
        pipe_id=["X"],
        geometry=[LineString([(500, -50), (500, 50)])],
        status=["abandoned"],
    )
    pipes = gpd.GeoDataFrame(pd.concat([inputs.pipes, more], ignore_index=True))
    assert _told(build_network(make_inputs(pipes=pipes), settings=Settings())) == []


offsets = st.tuples(st.integers(2, 340), st.booleans(), st.booleans())


@hypothesis_settings(deadline=None, max_examples=examples(12))
@given(st.lists(offsets, min_size=1, max_size=8), st.randoms())
def test_gaps_put_in_are_the_gaps_told(gaps: list[tuple[int, bool, bool]], random: object) -> None:
    """Spurs on a long main, each some millimetres off it, in any order and direction."""
    lines, put_in = {}, {}
    for n, (gap_mm, above, turned) in enumerate(gaps):
        x_m, side = 1000.0 + 50 * n, 1 if above else -1
        line = [(x_m, side * gap_mm / 1000), (x_m, side * 40.0)]
        lines[f"S{n}"] = line[::-1] if turned else line
        put_in[f"S{n}"] = gap_mm / 1000
    lines["MAIN"] = [(600.0, 0.0), (2000.0, 0.0)]
    names = list(lines)
    random.shuffle(names)  # type: ignore[attr-defined]
    told = {p: d for what, p, _, d in _told(_network(**{n: lines[n] for n in names}))}
    assert told == pytest.approx(put_in)


def test_no_rows_are_the_empty_table() -> None:
    assert repairs_table([], 32630).equals(no_repairs(32630))


def test_the_layers_given_are_not_changed(with_layers: Layers) -> None:
    inputs = with_layers()
    line = LineString([(400, 0), (400, 0), (600, 0.2)])
    odd = inputs.pipes.assign(geometry=[*inputs.pipes.geometry[:-1], line])
    before = odd.copy()
    build_network(with_layers(pipes=odd), settings=Settings())
    assert before.equals(odd)
