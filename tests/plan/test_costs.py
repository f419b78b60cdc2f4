from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest
from shapely.geometry import box

from district.plan.costs import PipeCosts, pipe_costs
from district.results import Isolation
from district.schema import check
from district.schema.columns import empty
from district.schema.outputs import LIKELIHOOD
from district.schema.pressures import ZONE_PRESSURE
from district.schema.renewal_tables import PIPE_COSTS
from district.settings import Renew, Settings
from tests.plan.cost_scene import (
    isolation,
    layer_of,
    likelihood,
    network,
    table_of,
    zone_pressure,
)

# A round set of assumptions, so that each cost can be worked out by hand.
RENEW = Renew(
    renewal_currency_m=100.0,
    renewal_bore_currency_m=50.0,
    repair_currency=1000.0,
    repair_bore_currency=200.0,
    cost_spread_share=0.3,
    outage_h=10.0,
    outage_person_currency_h=2.0,
    critical_currency=500.0,
    outage_spread_share=0.5,
    hidden_run_d=100.0,
    surface_near_m=0.0,
)
SETTINGS = Settings(renew=RENEW)
RAILS = [{"surface_id": "R", "kind": "railway", "geometry": box(450, -5, 500, 5)}]


def costs(pipes: Any = None, settings: Settings = SETTINGS, **given: Any) -> PipeCosts:
    whole = {
        "isolation": isolation(),
        "likelihood": likelihood(),
        "zone_pressure": zone_pressure(),
        "streets": table_of("streets", []),
        "surfaces": table_of("surfaces", RAILS),
    } | given
    layer = layer_of() if pipes is None else pipes
    return pipe_costs(layer, network(), **whole, settings=settings)


@pytest.fixture(scope="module")
def rows() -> pd.DataFrame:
    return costs().table.set_index("pipe_id")


def test_the_table_is_as_declared() -> None:
    table = costs().table
    assert check(PIPE_COSTS, table, source="pipe_costs")[1] == ()
    assert list(table) == list(PIPE_COSTS.names())
    # The abandoned pipe costs nothing more.
    assert table["pipe_id"].tolist() == ["A1", "B1", "C1", "T1"]


def test_repair_by_bore_and_what_lies_above(rows: pd.DataFrame) -> None:
    assert rows.at["T1", "repair_currency"] == pytest.approx(1000 + 2 * 200)
    assert rows.at["C1", "repair_currency"] == pytest.approx(1000 + 0.5 * 200)
    # A quarter of B1 under the railway: twice the repair more, and 20 000 of damage.
    assert rows.at["B1", "above"] == "railway"
    assert rows.at["B1", "above_share"] == pytest.approx(0.25)
    assert rows.at["B1", "repair_currency"] == pytest.approx(1200 * (1 + 0.25 * 2) + 0.25 * 20_000)
    assert rows.at["B1", "repair_currency_high"] == pytest.approx(
        1.3 * rows.at["B1", "repair_currency"]
    )


def test_renewal_by_length_bore_and_what_lies_above(rows: pd.DataFrame) -> None:
    assert rows.at["T1", "renewal_currency"] == pytest.approx(200 * (100 + 2 * 50))
    assert rows.at["B1", "renewal_currency"] == pytest.approx(200 * 150 * (1 + 0.25 * 2))
    assert rows.at["C1", "renewal_currency_low"] == pytest.approx(0.7 * 100 * (100 + 25))


def test_outage_by_people_hours_and_critical_users(rows: pd.DataFrame) -> None:
    assert rows.at["B1", "outage_currency"] == pytest.approx(40 * 10 * 2)
    assert rows.at["T1", "outage_currency"] == pytest.approx(100 * 10 * 2 + 500)
    # People by two fifths, what an hour counts by half: for people alone these join by squares;
    # what critical users count is the same assumption, and adds.
    people = 2000 * (0.4**2 + 0.5**2) ** 0.5
    assert rows.at["T1", "outage_currency_high"] == pytest.approx(2500 + people + 250)


def test_water_and_the_whole_of_a_break(rows: pd.DataFrame) -> None:
    row = rows.loc["B1"]
    assert row["water_currency"] == pytest.approx(0.8 * row["break_water_m3"])
    parts = ["water_currency", "repair_currency", "outage_currency"]
    assert row["break_currency"] == pytest.approx(sum(row[p] for p in parts))
    above = np.sqrt(sum((row[f"{p}_high"] - row[p]) ** 2 for p in parts))
    assert row["break_currency_high"] == pytest.approx(row["break_currency"] + above)


def test_hidden_leaks_run_on_until_they_are_found(rows: pd.DataFrame) -> None:
    assert rows.at["B1", "hidden_leak_m3_d"] == pytest.approx(0.5 * 86.4)
    assert rows.at["B1", "hidden_currency"] == pytest.approx(0.5 * 86.4 * 100 * 0.8)
    assert rows["hidden_leak_m3_d"].sum() == pytest.approx(86.4)


def test_limits_stand_about_every_figure(rows: pd.DataFrame) -> None:
    for name in rows.columns:
        if f"{name}_low" in rows:
            assert (rows[f"{name}_low"] <= rows[name]).all(), name
            assert (rows[name] <= rows[f"{name}_high"]).all(), name
            assert (rows[f"{name}_low"] >= 0).all(), name


def test_what_is_not_there_is_said() -> None:
    bare = costs(
        isolation=Isolation(),
        likelihood=empty(LIKELIHOOD),
        zone_pressure=empty(ZONE_PRESSURE),
        surfaces=table_of("surfaces", []),
    )
    assert (bare.table["outage_currency"] == 0).all()
    assert (bare.table["hidden_currency"] == 0).all()
    assert (bare.table["break_currency"] > 0).all()
    assert len(bare.basis.limits) == 4


def test_one_main_twice_in_the_layer_has_one_row() -> None:
    pipes = layer_of()
    twice = pd.concat([pipes, pipes.iloc[[1]]], ignore_index=True)
    assert costs(twice).table["pipe_id"].tolist() == ["A1", "B1", "C1", "T1"]


def test_the_order_of_rows_changes_nothing_and_nothing_is_written_to() -> None:
    given = {"pipes": layer_of(), "likelihood": likelihood(), "zone_pressure": zone_pressure()}
    given |= {"surfaces": table_of("surfaces", RAILS)}
    before = {name: table.copy() for name, table in given.items()}
    one = costs(**given)
    iso = isolation()
    other = costs(
        **{name: table.iloc[::-1] for name, table in given.items()},
        isolation=Isolation(
            segment_pipes=iso.segment_pipes.iloc[::-1], segment_losses=iso.segment_losses.iloc[::-1]
        ),
    )
    pd.testing.assert_frame_equal(one.table, other.table)
    assert one.basis == other.basis
    assert all(before[name].equals(table) for name, table in given.items())
