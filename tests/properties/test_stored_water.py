"""Through the whole house: a tank that fills at night and empties by day changes no leakage."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pandas as pd
import pytest

from district.pipeline import balance_folder
from district.results import Balance
from tests.bad_inputs.breakers import both, value
from tests.bad_inputs.small_folder import make_folder
from tests.bad_inputs.tank_cases import into_tank_l_s, levels, tank

Change = Callable[[Path], object]
FIGURES = ("inflow_l_s", "legitimate_use_l_s", "leakage_l_s", "excess_l_s", "leakage_m3_d")


def filling(folder: Path) -> None:
    """The inlet brings what runs into the tank besides what it brought."""
    path = folder / "readings/zones.csv"
    rows = pd.read_csv(path)
    inlet = rows["device_id"] == "MA"
    hours = np.arange(int(inlet.sum()))
    rows.loc[inlet, "value"] += [into_tank_l_s(h) for h in hours]
    rows.to_csv(path, index=False)


def nothing(_: Path) -> None:
    return None


def run(*changes: Change) -> Balance:
    with TemporaryDirectory() as scratch:
        folder = make_folder(Path(scratch) / "small")
        for change in changes:
            change(folder)
        return balance_folder(folder)[1]


@pytest.fixture(scope="module")
def plain() -> Balance:
    return run(nothing)


@pytest.mark.parametrize(
    "other",
    [
        nothing,
        both(levels(factor=100), value("sensors", -1, "reading_unit", "cm")),
        # Above the sea instead of above the floor, and one reading misread.
        lambda folder: misread(folder),
    ],
    ids=["metres", "centimetres", "above the sea"],
)
def test_water_that_is_stored_is_no_leakage(plain: Balance, other: Change) -> None:
    found = run(tank(), filling, other)
    for name in FIGURES:
        np.testing.assert_allclose(
            found.nights[name], plain.nights[name], rtol=1e-3, atol=2e-3, err_msg=name
        )
    np.testing.assert_allclose(found.days["inflow_m3"], plain.days["inflow_m3"], atol=0.05)
    # The limits hold the error of the tank's surface and levels.
    wide, narrow = (
        b.nights.set_index(["cell_id", "night"]).loc["A", "inflow_l_s_high"]
        - b.nights.set_index(["cell_id", "night"]).loc["A", "inflow_l_s"]
        for b in (found, plain)
    )
    assert (wide > narrow).all()


def test_without_the_level_it_looks_like_leakage(plain: Balance) -> None:
    blind = run(filling).nights.set_index("cell_id")["leakage_l_s"]
    seen = plain.nights.set_index("cell_id")["leakage_l_s"]
    assert (blind.loc["A"] > seen.loc["A"] + 1.4).all()


def test_a_night_without_the_level_has_no_figures() -> None:
    def hole(folder: Path) -> None:
        path = folder / "readings/levels.csv"
        rows = path.read_text().splitlines()
        kept = [r for r in rows if not ("2025-03-11 01:" < r[3:] < "2025-03-11 03:")]
        path.write_text("\n".join(kept) + "\n")

    found = run(tank(), filling, hole)
    status = found.nights.set_index(["cell_id", "night"])["status"]
    assert (status.loc["A"] == "no_inflow").tolist() == [False, True, False]
    assert (status.loc["B"] == "measured").all()


def misread(folder: Path) -> None:
    path = folder / "readings/levels.csv"
    rows = pd.read_csv(path)
    rows["value"] += 428.0
    rows.loc[30, "value"] = 999.0
    rows.to_csv(path, index=False)


def test_over_the_lowest_hour_too_stored_water_is_no_leakage() -> None:
    def rolling(folder: Path) -> None:
        path = folder / "district.toml"
        path.write_text(path.read_text() + '\n[night]\nwindow = "rolling"\n')

    found, without = run(tank(), filling, rolling), run(rolling)
    assert (found.nights["status"] == "measured").all()
    # What a level's error would make of the least of several hours is added back, and this
    # level has none: the two differ by it, within the limits.
    for name in ("inflow_l_s", "leakage_l_s"):
        there = without.nights[name]
        assert (found.nights[f"{name}_low"] <= there).all(), name
        assert (found.nights[f"{name}_high"] >= there).all(), name
        assert (np.abs(found.nights[name] - there) < 0.15).all(), name
    assert found.nights["minimum_night_flow_l_s"].notna().all()
