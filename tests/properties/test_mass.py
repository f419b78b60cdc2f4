"""Mass is conserved; order, direction of meters and where zones meet change nothing."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shapely.geometry import Point

from district.balance import district_balance
from district.network.model import Network
from district.results import Balance, Reduced
from district.schema import empty
from district.schema.inputs import WORKS
from district.schema.stored import (
    ALARMS,
    DAILY_VOLUMES,
    DEVICE_QUALITY,
    HOURLY_PRESSURES,
    NIGHT_FLOWS,
    NIGHT_MINIMA,
)
from district.settings import Allowance, Annual, Settings
from tests.examples import examples

DAYS = pd.date_range("2026-02-01", periods=4, freq="D")
FEW = settings(
    max_examples=examples(5),
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
    derandomize=True,
)


@dataclass(frozen=True)
class World:
    """Zones fed one through another; `feeds[i]` is the zone (or -1, the source) before zone i."""

    feeds: tuple[int, ...]
    night_l_s: tuple[tuple[float, ...], ...]
    day_m3: tuple[tuple[float, ...], ...]
    properties: tuple[int, ...]
    metered_m3: tuple[float, ...]


@st.composite
def worlds(draw: Any) -> World:
    count = draw(st.integers(1, 5))
    flow = st.floats(-5, 50, allow_nan=False).map(lambda x: round(x, 3))
    rows = st.tuples(*[flow] * len(DAYS))
    return World(
        feeds=tuple(draw(st.integers(-1, i - 1)) for i in range(count)),
        night_l_s=tuple(draw(rows) for _ in range(count)),
        day_m3=tuple(draw(rows) for _ in range(count)),
        properties=tuple(draw(st.integers(0, 500)) for _ in range(count)),
        metered_m3=tuple(draw(st.floats(0, 20)) for _ in range(count)),
    )


def points(table: dict[str, Any], index: list[str]) -> gpd.GeoDataFrame:
    return gpd.GeoDataFrame(
        table, index=index, geometry=[Point(i, 0) for i in range(len(index))], crs=32630
    )


def name_of(zone: int) -> str:
    return "source" if zone < 0 else f"Z{zone}"


def network_of(world: World) -> Network:
    zones = [name_of(i) for i in range(len(world.feeds))]
    count = len(zones)
    return Network(
        nodes=points({"cut": ""}, ["n"]),
        pipes=points(
            {"layer_pipe_id": "P", "cell_id": "source", "start_position": 0, "end_position": 0},
            ["P"],
        ),
        cells=pd.DataFrame(
            {
                "name": ["source", *zones],
                "parent_cell_id": ["", *(name_of(f) if f >= 0 else "" for f in world.feeds)],
                "has_source": [True] + [False] * count,
                "mains_km": 2.0,
                "connections_count": [0] + [2] * count,
                "properties_count": [0, *world.properties],
                "private_km": 0.0,
                "elevation_m": [np.nan] + [5.0] * count,
            },
            index=["source", *zones],
        ),
        boundaries=pd.DataFrame(
            {
                "meter_id": [f"M{i}" for i in range(count)],
                "upstream_cell_id": [name_of(f) for f in world.feeds],
                "downstream_cell_id": zones,
                "role": "transfer",
                "kind": "pulse",
                "error_percent": 2.0,
            }
        ),
        connections=points(
            {
                "pipe_id": "P",
                "cell_id": zones * 2,
                "properties": [*world.properties, *[1] * count],
                "use_class": "household",
                "critical": False,
                "meter_id": [""] * count + [f"C{i}" for i in range(count)],
                "building_id": "",
                "private_pipe_m": 0.0,
                "elevation_m": 5.0,
            },
            [f"K{i}" for i in range(2 * count)],
        ),
        valves=points({"cell_id": []}, []),
        sensors=points(
            {"kind": "pressure", "elevation_m": 5.0, "cell_id": zones},
            [f"G{i}" for i in range(count)],
        ),
        sources=points({"head_m": 50.0}, ["R"]),
        meters=points(
            {
                "role": ["transfer"] * count + ["customer"] * count,
                "error_percent": 2.0,
                "cell_id": [""] * count + zones,
            },
            [f"M{i}" for i in range(count)] + [f"C{i}" for i in range(count)],
        ),
        zones=points({"name": zones}, zones),
    )


GROSS = {"flow_l_s": "gross_l_s", "volume_m3": "gross_m3"}


def rows_of(flows: dict[str, tuple[float, ...]], day: str, value: str) -> pd.DataFrame:
    return pd.concat(
        pd.DataFrame(
            {
                "device_id": device,
                day: DAYS,
                value: np.asarray(flow, dtype=float),
                # Some of it went back and forth.
                GROSS[value]: 1.5 * np.abs(flow),
                "window_h": 2.0,
                "coverage_share": 1.0,
                "spread_share": 0.0,
            }
        )
        for device, flow in flows.items()
    ).reset_index(drop=True)


def reduced_of(world: World) -> Reduced:
    nights = {f"M{i}": f for i, f in enumerate(world.night_l_s)}
    days = {f"M{i}": f for i, f in enumerate(world.day_m3)}
    days |= {f"C{i}": (v,) * len(DAYS) for i, v in enumerate(world.metered_m3)}
    hour = np.arange(24.0)
    pressure = pd.concat(
        pd.DataFrame(
            {
                "device_id": f"G{i}",
                "day": np.repeat(DAYS, 24),
                "hour": np.tile(hour, len(DAYS)),
                "pressure_m": np.tile(45.0 - i - 8.0 * np.sin(hour / 24 * np.pi), len(DAYS)),
            }
        )
        for i in range(len(world.feeds))
    )
    return Reduced(
        quality=empty(DEVICE_QUALITY),
        night_flows=rows_of(nights, "night", "flow_l_s")[list(NIGHT_FLOWS.names())],
        night_minima=empty(NIGHT_MINIMA),
        daily_volumes=rows_of(days, "day", "volume_m3")[list(DAILY_VOLUMES.names())],
        hourly_pressures=pressure[list(HOURLY_PRESSURES.names())],
        alarms=empty(ALARMS),
    )


def balanced(network: Network, reduced: Reduced, rules: Settings | None = None) -> Balance:
    return district_balance(network, reduced, settings=rules or Settings(), works=empty(WORKS))


def same(first: Balance, second: Balance) -> None:
    tables = ("nights", "days", "zones", "annual", "indicators", "loss_gaps", "economics")
    for name in tables:
        pd.testing.assert_frame_equal(
            getattr(first, name), getattr(second, name), rtol=1e-9, atol=1e-12
        )
    assert first.basis == second.basis


@given(worlds())
@FEW
def test_every_day_adds_up(world: World) -> None:
    days = balanced(network_of(world), reduced_of(world)).days
    total = days["consumption_m3"] + days["losses_m3"] + days["residual_m3"]
    assert days.notna().all().all()
    np.testing.assert_allclose(total, days["inflow_m3"], rtol=0, atol=1e-9)


@given(worlds())
@FEW
def test_nested_zones_add_up_to_what_leaves_the_source(world: World) -> None:
    found = balanced(network_of(world), reduced_of(world))
    first = [i for i, f in enumerate(world.feeds) if f < 0]
    supplied = np.sum([world.day_m3[i] for i in first], axis=0)
    inflow = found.days.groupby("day")["inflow_m3"].sum()
    np.testing.assert_allclose(inflow, supplied, rtol=0, atol=1e-9)
    night = found.nights.groupby("night")["inflow_l_s"].sum()
    np.testing.assert_allclose(
        night, np.sum([world.night_l_s[i] for i in first], axis=0), rtol=0, atol=1e-9
    )
    volume = found.annual.set_index(["cell_id", "component"])["volume_m3"]
    np.testing.assert_allclose(
        volume["district", "system input volume"], supplied.mean() * 365, rtol=1e-9, atol=1e-6
    )


@given(worlds(), st.integers(0, 2**32 - 1))
@FEW
def test_the_order_of_rows_changes_nothing(world: World, seed: int) -> None:
    rng = np.random.default_rng(seed)

    def shuffled(table: Any) -> Any:
        return table.iloc[rng.permutation(len(table))]

    network, reduced = network_of(world), reduced_of(world)
    tables = ("cells", "boundaries", "connections", "sensors", "meters")
    other = replace(network, **{n: shuffled(getattr(network, n)) for n in tables})
    readings = ("night_flows", "daily_volumes", "hourly_pressures")
    mixed = replace(reduced, **{n: shuffled(getattr(reduced, n)) for n in readings})
    same(balanced(network, reduced), balanced(other, mixed))


@given(worlds(), st.data())
@FEW
def test_a_meter_turned_round_with_its_sign_changes_nothing(world: World, data: Any) -> None:
    network, reduced = network_of(world), reduced_of(world)
    turned = data.draw(st.sets(st.sampled_from(list(network.boundaries["meter_id"]))))
    edges = network.boundaries.copy()
    at = edges["meter_id"].isin(turned)
    sides = ["upstream_cell_id", "downstream_cell_id"]
    edges.loc[at, sides] = edges.loc[at, sides[::-1]].to_numpy()

    def negated(table: pd.DataFrame, value: str) -> pd.DataFrame:
        sign = np.where(table["device_id"].isin(turned), -1.0, 1.0)
        return table.assign(**{value: table[value] * sign})

    other = replace(
        reduced,
        night_flows=negated(reduced.night_flows, "flow_l_s"),
        daily_volumes=negated(reduced.daily_volumes, "volume_m3"),
    )
    same(balanced(network, reduced), balanced(replace(network, boundaries=edges), other))


@given(worlds())
@FEW
def test_no_flow_at_all_gives_zeros(world: World) -> None:
    nothing = ((0.0,) * len(DAYS),) * len(world.feeds)
    still = replace(world, night_l_s=nothing, day_m3=nothing, metered_m3=(0.0,) * len(world.feeds))
    unused = Settings(
        allowances={"household": Allowance(l_property_h=0, l_property_d=0)}, annual=Annual()
    )
    found = balanced(network_of(still), reduced_of(still), unused)
    assert (found.nights[["inflow_l_s", "leakage_l_s", "leakage_m3_d"]] == 0).all().all()
    assert (found.days.drop(columns=["cell_id", "day"]) == 0).all().all()
    assert (found.annual[["volume_m3", "volume_m3_low", "volume_m3_high"]] == 0).all().all()
    shares = ["non_revenue_share", "leakage_index", "leakage_l_connection_d", "leakage_m3_km_d"]
    assert (found.indicators[shares] == 0).all().all()
    figures = found.zones.select_dtypes("number")
    assert figures.drop(columns=[c for c in figures if "minimum" in c]).notna().all().all()


@given(worlds(), st.floats(0.05, 0.95))
@FEW
def test_a_zone_split_by_a_new_meter_sums_to_the_whole(world: World, share: float) -> None:
    """The last zone is split in two: half its users and mains behind a new meter."""
    last = len(world.feeds) - 1
    network, reduced = network_of(world), reduced_of(world)
    zone, part = name_of(last), "split"
    cells = network.cells.copy()
    cells.loc[part] = cells.loc[zone]
    cells.loc[part, ["name", "parent_cell_id"]] = [part, zone]
    for column, behind in (("mains_km", 0.5), ("connections_count", 1)):
        cells[column] = cells[column].astype(float)
        cells.loc[part, column] = behind
        cells.loc[zone, column] -= behind
    edge = network.boundaries.iloc[[last]].assign(
        meter_id="new", upstream_cell_id=zone, downstream_cell_id=part
    )
    taps = network.connections.copy()
    taps.loc[f"K{len(world.feeds) + last}", "cell_id"] = part
    split = replace(
        network,
        cells=cells,
        boundaries=pd.concat([network.boundaries, edge], ignore_index=True),
        connections=taps,
        sensors=pd.concat(
            [
                network.sensors,
                network.sensors.loc[[f"G{last}"]].assign(cell_id=part).rename({f"G{last}": "Gs"}),
            ]
        ),
    )

    def with_new(table: pd.DataFrame, value: str) -> pd.DataFrame:
        rows = table[table["device_id"] == f"M{last}"]
        return pd.concat(
            [table, rows.assign(device_id="new", **{value: rows[value] * share})],
            ignore_index=True,
        )

    pressure = reduced.hourly_pressures
    twin = pressure[pressure["device_id"] == f"G{last}"].assign(device_id="Gs")
    more = replace(
        reduced,
        night_flows=with_new(reduced.night_flows, "flow_l_s"),
        daily_volumes=with_new(reduced.daily_volumes, "volume_m3"),
        hourly_pressures=pd.concat([pressure, twin], ignore_index=True),
    )
    whole, halves = balanced(network, reduced), balanced(split, more)

    def of(found: Balance, name: str, day: str) -> pd.DataFrame:
        table = getattr(found, name)
        rows = table[table["cell_id"].isin([zone, part])]
        columns = [c for c in SUMMED if c in rows]
        return rows.groupby(day)[columns].sum()

    for name, day in (("nights", "night"), ("days", "day")):
        pd.testing.assert_frame_equal(
            of(whole, name, day), of(halves, name, day), rtol=1e-9, atol=1e-9
        )
    volumes = [
        # How losses are apportioned goes by the sizes of a zone, and so is no sum over its halves.
        f.annual[f.annual["rests_on"] != "apportioned"].set_index(["cell_id", "component"])[
            "volume_m3"
        ]
        for f in (whole, halves)
    ]
    np.testing.assert_allclose(volumes[0]["district"], volumes[1]["district"], atol=1e-6)
    np.testing.assert_allclose(
        volumes[0][zone], volumes[1][zone] + volumes[1][part], rtol=1e-9, atol=1e-6
    )


SUMMED = [
    "inflow_l_s",
    "legitimate_use_l_s",
    "leakage_l_s",
    "background_l_s",
    "excess_l_s",
    "leakage_m3_d",
    "inflow_m3",
    "consumption_m3",
    "losses_m3",
    "residual_m3",
]
"""Figures that add over zones."""
