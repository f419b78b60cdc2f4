"""From a folder to its pages: zones that lack what others have, meters that say next to nothing.

Each works, or is refused with one clear sentence that comes first.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from district.errors import InputError
from district.pipeline import report_folder, write_report
from district.results import DistrictReport
from tests.bad_inputs.breakers import Breaker, both, features
from tests.bad_inputs.small_folder import feature, make_folder

BY_CONNECTION = [f"leakage_l_connection_d{end}" for end in ("", "_low", "_high")]
Rows = Callable[[pd.DataFrame], pd.DataFrame]


def readings(name: str, change: Rows) -> Breaker:
    """The rows of a reading file made others."""

    def write(folder: Path) -> None:
        path = folder / "readings" / f"{name}.csv"
        change(pd.read_csv(path)).to_csv(path, index=False)

    return write


def only_once(meter: str) -> Breaker:
    """Of this zone meter one reading is left."""

    def once(rows: pd.DataFrame) -> pd.DataFrame:
        own = rows["device_id"] == meter
        return pd.concat([rows[~own], rows[own].iloc[[30]]])

    return readings("zones", once)


def between(first: str, last: str) -> Breaker:
    def kept(rows: pd.DataFrame) -> pd.DataFrame:
        return rows[rows["time"].between(first, last)]

    return both(readings("zones", kept), readings("others", kept))


def outline(zone_id: str, west: float, east: float) -> Breaker:
    south, north = 46.9995, 47.0015
    ring = [(west, south), (east, south), (east, north), (west, north), (west, south)]
    zone = feature("Polygon", [ring], zone_id=zone_id, name="Nowhere")
    return features("zones", lambda found: found.append(zone))


def nobody_in_b(folder: Path) -> None:
    features("connections", lambda found: found.__delitem__(slice(2, None)))(folder)


STILL = both(
    readings("zones", lambda rows: rows.assign(value=0)),
    readings("others", lambda rows: rows.assign(CM1=1200.0)),
)


def run(tmp_path: Path, change: Breaker) -> DistrictReport:
    folder = make_folder(tmp_path / "small")
    change(folder)
    report = report_folder(folder)
    pages = write_report(report, tmp_path / "out")
    assert all(page.exists() for page in pages)
    for name in ("nights", "days", "zones", "annual", "indicators"):
        figures = getattr(report.balance, name).select_dtypes("number")
        assert not np.isinf(figures.to_numpy(dtype=float)).any(), name
    return report


def empty_columns(table: pd.DataFrame) -> list[str]:
    return [str(c) for c in table.columns[table.isna().any()]]


def said(report: DistrictReport) -> list[str]:
    return [f.sentence() for f in report.findings]


def test_no_flow_at_all(tmp_path: Path) -> None:
    found = run(tmp_path, STILL)
    for name in ("nights", "days", "zones", "annual", "indicators"):
        figures = getattr(found.balance, name).select_dtypes("number")
        # What the year's running costs are is not told here, so no share of them is.
        untold = [c for c in figures if str(c).startswith("non_revenue_cost_share")]
        assert empty_columns(figures.drop(columns=untold)) == [], name
    nights = found.balance.nights
    assert (nights[["inflow_l_s", "measured_use_l_s", "minimum_night_flow_l_s"]] == 0).all().all()
    volume = found.balance.annual.set_index(["component", "cell_id"])["volume_m3"]
    assert (volume["system input volume"] == 0).all()
    assert (found.balance.indicators["non_revenue_share"] == 0).all()
    assert any("got no flow at all through its meters" in sentence for sentence in said(found))


def test_a_zone_without_pipes(tmp_path: Path) -> None:
    found = run(tmp_path, outline("C", 7.01, 7.02))
    assert set(found.balance.zones["cell_id"]) == {"A", "B"}
    assert (
        "zones.geojson, zone C, column geometry: got an outline with no pipe in use inside, "
        "expected an outline around the zone's pipes. Correct the outline, or remove the zone."
    ) in said(found)


def test_a_zone_without_connections(tmp_path: Path) -> None:
    found = run(tmp_path, nobody_in_b)
    zones = found.balance.zones.set_index("cell_id")
    assert empty_columns(zones.loc[["B"]].select_dtypes("number")) == BY_CONNECTION
    assert empty_columns(zones.loc[["A"]].select_dtypes("number")) == []
    b = found.balance.nights.set_index("cell_id").loc["B"]
    assert (b["legitimate_use_l_s"] == 0).all()
    assert (b["leakage_l_s"] == b["inflow_l_s"]).all()
    assert any("zone B: got no connection" in sentence for sentence in said(found))


def test_a_single_night(tmp_path: Path) -> None:
    found = run(tmp_path, between("2025-03-11 00:00", "2025-03-11 06:00"))
    assert found.balance.nights["night"].nunique() == 1
    assert found.balance.nights.select_dtypes("number").notna().all().all()
    assert found.balance.zones["leakage_l_s_high"].notna().all()
    # No day is whole: no daily inflow and no year, which is said.
    assert found.balance.annual.empty
    assert (
        "Annual balance: no complete day of inflow in any zone." in found.balance.basis.assumptions
    )
    assert any("got a record of 1 night" in sentence for sentence in said(found))


def test_one_reading_of_the_inlet(tmp_path: Path) -> None:
    found = run(tmp_path, only_once("MA"))
    status = found.balance.nights.groupby("cell_id")["status"].unique()
    assert [list(status[c]) for c in "AB"] == [["no_inflow"], ["measured"]]
    assert found.balance.zones.set_index("cell_id")["leakage_l_s"].notna().to_dict() == {
        "A": False,
        "B": True,
    }
    assert any(
        "zone A: got 0 of the last 28 nights with a flow at every meter" in s for s in said(found)
    )


def test_one_reading_of_a_user(tmp_path: Path) -> None:
    lone = readings("others", lambda rows: rows.assign(CM1=rows["CM1"].where(rows.index == 0)))
    found = run(tmp_path, lone)
    assert found.balance.nights["leakage_l_s"].notna().all()
    # Nothing is measured of it: the allowance stands in.
    assert (found.balance.nights["measured_use_l_s"] == 0).all()


@pytest.mark.parametrize(
    ("change", "first"),
    [
        (
            only_once("MB"),
            "readings/zones.csv: got no night on which every meter of a zone was read, expected at "
            "least one zone whose meters were all read, hourly or more often, from 02:00 to 04:00. "
            "Add such readings, first of meters MA and MB around zone A.",
        ),
        (
            between("2025-03-11 03:00", "2025-03-11 03:00"),
            "readings/zones.csv: got no night on which every meter of a zone was read, expected at "
            "least one zone whose meters were all read, hourly or more often, from 02:00 to 04:00. "
            "Add such readings, first of meters MA and MB around zone A.",
        ),
        (
            features("connections", lambda found: found.clear()),
            "connections.geojson: got no features, expected at least one: service connections to "
            "buildings and customers. Export the layer again with its features.",
        ),
    ],
    ids=["no meter beside", "one reading each", "no connections at all"],
)
def test_what_is_refused_is_refused_clearly(tmp_path: Path, change: Breaker, first: str) -> None:
    folder = make_folder(tmp_path / "small")
    change(folder)
    with pytest.raises(InputError) as refused:
        report_folder(folder)
    errors = [f.sentence() for f in refused.value.findings if f.severity == "error"]
    assert errors == [first]
