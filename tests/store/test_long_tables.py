from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from district.schema.columns import Column, Table, empty
from district.schema.stored import NIGHT_FLOWS
from district.store.long_tables import as_arrow, from_arrow, load_arrow, write_arrow

TABLE = Table(
    "things",
    "by two ids and day",
    (
        Column("cell_id", "text", "cell"),
        Column("device_id", "text", "device"),
        Column("day", "date", "day"),
        Column("at_utc", "time", "instant"),
        Column("size_m", "real", "size"),
        Column("things_count", "whole", "count"),
    ),
    key=("cell_id", "device_id", "day"),
)


def frame(days: int, first: str, ids: list[tuple[str, str]]) -> pd.DataFrame:
    """A row an id and day, in order of the table's key."""
    at = pd.date_range(first, periods=days, freq="D", unit="us")
    rows = pd.DataFrame(
        [(c, d, day) for c, d in sorted(ids) for day in at], columns=["cell_id", "device_id", "day"]
    )
    rng = np.random.default_rng(3)
    rows["day"] = rows["day"].astype("datetime64[us]")
    rows["at_utc"] = rows["day"].dt.tz_localize("UTC")
    size = rng.uniform(0, 1, len(rows))
    size[::7] = np.nan
    return rows.assign(size_m=size, things_count=1.0)


def test_back_as_it_was(tmp_path: Path) -> None:
    rows = frame(5, "2025-01-01", [("A", "x"), ("A", "ä"), ("B", "x2"), ("B", "x10")])
    path = tmp_path / "rows.parquet"
    write_arrow(as_arrow(rows, TABLE), path)
    kept = load_arrow(path, TABLE)
    assert kept is not None
    pd.testing.assert_frame_equal(from_arrow([kept], TABLE), rows)


def test_months_joined_are_in_order_of_ids() -> None:
    first = frame(4, "2025-01-28", [("B", "x"), ("A", "z")])
    second = frame(3, "2025-02-01", [("C", "a"), ("A", "z"), ("B", "w")])
    joined = from_arrow([as_arrow(t, TABLE) for t in (first, second)], TABLE)
    wanted = pd.concat([first, second]).sort_values(list(TABLE.key), ignore_index=True)
    pd.testing.assert_frame_equal(joined, wanted)


def test_nothing_is_an_empty_table() -> None:
    pd.testing.assert_frame_equal(from_arrow([], TABLE), empty(TABLE))
    none = from_arrow([as_arrow(frame(0, "2025-01-01", []), TABLE)], TABLE)
    assert len(none) == 0
    assert tuple(none.columns) == TABLE.names()


def test_the_longest_tables_number_their_ids() -> None:
    days = pd.date_range("2025-01-01", periods=2, unit="us")
    rows = pd.DataFrame({"device_id": ["a", "a"], "night": days})
    rows = rows.reindex(columns=list(NIGHT_FLOWS.names()))
    found = from_arrow([as_arrow(rows, NIGHT_FLOWS)], NIGHT_FLOWS)
    assert isinstance(found["device_id"].dtype, pd.CategoricalDtype)
    assert list(found["device_id"]) == ["a", "a"]


@pytest.mark.parametrize("seed", range(4))
def test_parts_of_one_id_are_laid_as_a_stable_sort_lays_them(seed: int) -> None:
    # Rows of a part in any order, devices in some parts alone, and rows of no device at all.
    random = np.random.default_rng(seed)
    parts = []
    for month in range(1, 5):
        ids = random.choice(["D2", "D10", "D1", "ä", None], size=random.integers(0, 9))
        night = pd.date_range(f"2025-0{month}-01", periods=len(ids), freq="D", unit="us")
        rows = pd.DataFrame({"device_id": pd.Series(ids, dtype="str"), "night": night})
        rows["flow_l_s"] = np.where(random.random(len(ids)) < 0.2, np.nan, random.random(len(ids)))
        parts.append(rows.reindex(columns=list(NIGHT_FLOWS.names())))
    found = from_arrow([as_arrow(p, NIGHT_FLOWS) for p in parts], NIGHT_FLOWS)
    wanted = pd.concat(parts, ignore_index=True).sort_values(
        "device_id", kind="stable", na_position="first", ignore_index=True
    )
    assert found["device_id"].astype("str").tolist() == wanted["device_id"].tolist()
    for name in ("night", "flow_l_s"):
        np.testing.assert_array_equal(found[name].to_numpy(), wanted[name].to_numpy())


@pytest.mark.parametrize("ids", [300, 70_000])
def test_many_ids(ids: int) -> None:
    names = sorted(f"D{i}" for i in range(ids))
    days = pd.to_datetime(["2025-01-31", "2025-02-01"])
    parts = [
        pd.DataFrame({"device_id": names, "night": day, "flow_l_s": np.arange(ids) + n * 0.5})
        .astype({"night": "datetime64[us]"})
        .reindex(columns=list(NIGHT_FLOWS.names()))
        for n, day in enumerate(days)
    ]
    found = from_arrow([as_arrow(p, NIGHT_FLOWS) for p in parts], NIGHT_FLOWS)
    assert list(found["device_id"].iloc[:4]) == [names[0], names[0], names[1], names[1]]
    assert found["flow_l_s"].iloc[-2:].tolist() == [ids - 1, ids - 0.5]


def test_what_cannot_be_read_is_not_there(tmp_path: Path) -> None:
    path = tmp_path / "rows.parquet"
    assert load_arrow(path, TABLE) is None
    path.write_bytes(b"PAR1 not so")
    assert load_arrow(path, TABLE) is None
    write_arrow(as_arrow(frame(2, "2025-01-01", [("A", "x")]), TABLE), path)
    assert load_arrow(path, TABLE) is not None
    assert load_arrow(path, NIGHT_FLOWS) is None
