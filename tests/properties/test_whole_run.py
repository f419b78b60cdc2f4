"""The whole chain on the small folder, written another way: the same results.

How a folder is written must not matter: the order of features and rows, the direction a pipe was
digitised in, the reference system, the units of bores and readings.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from district.pipeline import locate_folder
from district.results import Balance, Location
from tests.bad_inputs.small_folder import SETTINGS, make_folder, read_layer, write_layer
from tests.examples import examples

LAYERS = ("pipes", "valves", "meters", "zones", "connections", "sensors", "sources")
Found = tuple[Balance, Location]
TABLES: tuple[Callable[[Found], pd.DataFrame], ...] = (
    lambda r: r[0].zones.set_index("cell_id").sort_index(),
    lambda r: r[0].nights.set_index(["cell_id", "night"]).sort_index(),
    lambda r: r[0].annual.set_index(["cell_id", "component"]).sort_index(),
    lambda r: r[1].likelihood.set_index("pipe_id").sort_index(),
)


def run(change: Callable[[Path], None]) -> Found:
    with TemporaryDirectory() as scratch:
        folder = make_folder(Path(scratch) / "small")
        change(folder)
        _, balance, _, location = locate_folder(folder)
        return balance, location


@pytest.fixture(scope="module")
def plain() -> Found:
    return run(lambda _: None)


def assert_same(found: Found, plain: Found, *, rtol: float) -> None:
    for table in TABLES:
        some, whole = table(found), table(plain)
        assert list(some.index) == list(whole.index)
        for name in whole.select_dtypes("number").columns:
            np.testing.assert_allclose(
                some[name].to_numpy(float),
                whole[name].to_numpy(float),
                rtol=rtol,
                atol=rtol,
                err_msg=name,
            )


@settings(max_examples=examples(2), deadline=None)
@given(seed=st.integers(0, 2**32 - 1))
def test_the_order_of_features_and_rows_changes_nothing(plain: Found, seed: int) -> None:
    shuffle = random.Random(seed).shuffle

    def change(folder: Path) -> None:
        for name in LAYERS:
            features = read_layer(folder, name)
            shuffle(features)
            write_layer(folder, name, features)
        for name in ("zones", "others"):
            path = folder / "readings" / f"{name}.csv"
            head, *rows = path.read_text().splitlines()
            shuffle(rows)
            path.write_text("\n".join([head, *rows]) + "\n")

    assert_same(run(change), plain, rtol=1e-12)


@settings(max_examples=examples(2), deadline=None)
@given(turned=st.frozensets(st.integers(0, 5), min_size=1))
def test_the_direction_of_digitising_changes_nothing(plain: Found, turned: frozenset[int]) -> None:
    def change(folder: Path) -> None:
        features = read_layer(folder, "pipes")
        for n in turned:
            features[n]["geometry"]["coordinates"].reverse()
        write_layer(folder, "pipes", features)

    assert_same(run(change), plain, rtol=1e-9)


@pytest.mark.parametrize("crs", [2056, 3857, 32632])
def test_the_reference_system_changes_nothing_but_the_scale(plain: Found, crs: int) -> None:
    def change(folder: Path) -> None:
        for name in LAYERS:
            path = folder / f"{name}.geojson"
            layer = gpd.read_file(path).to_crs(crs)
            path.unlink()
            layer.to_file(folder / f"{name}.gpkg", layer=name)

    # Projections scale lengths by up to about one part in a thousand.
    assert_same(run(change), plain, rtol=2e-3)


def test_units_of_bores_and_readings_change_nothing(plain: Found) -> None:
    def change(folder: Path) -> None:
        features = read_layer(folder, "pipes")
        for one in features:
            one["properties"]["diameter_mm"] /= 25.4
        write_layer(folder, "pipes", features)
        meters = read_layer(folder, "meters")
        meters[0]["properties"]["reading_unit"] = "m3/h"
        write_layer(folder, "meters", meters)
        path = folder / "readings" / "zones.csv"
        rows = pd.read_csv(path)
        rate = rows["device_id"] == "MA"
        rows.loc[rate, "value"] *= 3.6
        rows.to_csv(path, index=False)
        units = '[layers.pipes]\nfile = "pipes.geojson"\nunits = { diameter_mm = "in" }\n'
        (folder / "district.toml").write_text(SETTINGS + units)

    assert_same(run(change), plain, rtol=1e-6)
