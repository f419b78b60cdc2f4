"""Long tables to arrays and back."""

from __future__ import annotations

import numpy as np
import pandas as pd

from district.balance import grids
from district.estimates import Estimate

DAYS = grids.span(["2026-01-01", "2026-01-03"])


def test_span_has_every_day_once() -> None:
    assert [str(d.date()) for d in DAYS] == ["2026-01-01", "2026-01-02", "2026-01-03"]
    assert len(grids.span([])) == 0
    assert len(grids.span([pd.NaT])) == 0


def test_grid_leaves_absent_days_empty_and_ignores_strangers() -> None:
    table = pd.DataFrame(
        {
            "device_id": ["B", "A", "X", "A"],
            "night": pd.to_datetime(["2026-01-01", "2026-01-03", "2026-01-01", "2027-01-01"]),
            "flow_l_s": [1.0, 2.0, 9.0, 9.0],
        }
    )
    made = grids.grid(
        table, row="night", value="flow_l_s", rows=DAYS, columns=pd.Index(["A", "B"], dtype=object)
    )
    np.testing.assert_array_equal(made, [[np.nan, 1], [np.nan, np.nan], [2, np.nan]])


def test_long_and_wide_are_each_others_inverse() -> None:
    cells = pd.Index(["A", "B"], dtype=object)
    values = np.arange(6.0).reshape(3, 2)
    table = grids.long(
        cells, DAYS, day="day", columns={"x_m3": Estimate(values, values - 1, values + 1)}
    )
    assert list(table["cell_id"]) == ["A"] * 3 + ["B"] * 3
    np.testing.assert_array_equal(grids.wide(table, "x_m3", cells), values)
    np.testing.assert_array_equal(grids.wide_estimate(table, "x_m3", cells).high, values + 1)


def test_empty_ids_are_empty_text() -> None:
    assert list(grids.text(pd.Series(["a", None, np.nan, 7]))) == ["a", "", "", "7"]


def test_an_estimate_into_columns_and_back() -> None:
    figure = Estimate(np.array([1.0, 2.0]), np.array([0.5, 1.5]), np.array([4.0, np.nan]))
    table = pd.DataFrame(grids.in_columns({"flow_l_s": figure}))
    assert list(table) == ["flow_l_s", "flow_l_s_low", "flow_l_s_high"]
    for one, other in zip(figure, grids.estimate_in(table, "flow_l_s"), strict=True):
        np.testing.assert_array_equal(one, other)


def test_what_is_not_known_takes_the_median_of_its_column() -> None:
    values = np.array([[1.0, np.nan], [np.nan, np.nan], [3.0, np.nan], [8.0, np.nan]])
    found = grids.median_filled(values)
    assert list(found[:, 0]) == [1.0, 3.0, 3.0, 8.0]
    assert np.isnan(found[:, 1]).all()


def test_medians_are_those_of_pandas() -> None:
    rng = np.random.default_rng(5)
    for rows in (0, 1, 2, 7, 8):
        values = rng.normal(size=(rows, 40))
        values[rng.uniform(size=values.shape) < 0.4] = np.nan
        values[:, 3] = np.nan
        found = grids.column_medians(values)
        np.testing.assert_array_equal(found, pd.DataFrame(values).median().to_numpy())
    assert grids.column_medians(np.array([[np.inf], [1.0], [np.nan]])) == [np.inf]


def test_ids_held_as_categories_are_found_alike() -> None:
    ids = pd.Series(["b", None, "a", "b", "strange"])
    known = pd.Index(["a", "b", "never"], dtype=object)
    for held in (ids, ids.astype("category"), ids.astype("category").iloc[2:]):
        wanted = known.get_indexer(grids.text(held))
        np.testing.assert_array_equal(grids.among(held, known), wanted)
        assert set(grids.ids_in(held)) - {""} == set(held.dropna())


def test_positions_of_dates_with_and_without_holes() -> None:
    days = pd.date_range("2026-03-28", periods=4, unit="us")
    dates = pd.Series([*days[[3, 0]], pd.NaT, days[0] - pd.Timedelta(days=1), days[1]])
    assert list(grids.positions(dates, days)) == [3, 0, -1, -1, 1]
    assert list(grids.positions(dates, days[[0, 3]])) == [1, 0, -1, -1, -1]
    assert list(grids.positions(dates.astype("datetime64[ns]"), days)) == [3, 0, -1, -1, 1]
    assert list(grids.positions(dates, days[:0])) == [-1] * 5


def test_rows_of_a_table_by_device_are_those_of_one_in_any_order() -> None:
    ids = pd.Series(["C", "A", None, "X", "B", "A", "C"])
    known = pd.Index(["C", "A", "Z"], dtype=object)
    rows, places = grids.rows_of(ids, known)
    assert rows.tolist() == [0, 1, 5, 6]
    assert places.tolist() == [0, 1, 1, 0]
    # By hand: missing first, as their code is -1, then by name.
    long = pd.Series(pd.Categorical([None, "A", "A", "B", "C", "C", "X"]))
    for column in (long, long.astype("str")):
        rows, places = grids.rows_of(column, known)
        assert rows.tolist() == [1, 2, 4, 5]
        assert places.tolist() == [1, 1, 0, 0]
    empty = grids.rows_of(long.iloc[:0], known)
    assert [len(part) for part in empty] == [0, 0]
