import geopandas as gpd
import pandas as pd
import pytest
from shapely.geometry import LineString

from district.simulate import score

X, Y = 568_000.0, 6_023_000.0


@pytest.fixture
def pipes():
    lines = [
        LineString([(X, Y), (X + 100, Y)]),
        LineString([(X + 100, Y), (X + 150, Y)]),
        LineString([(X, Y + 50), (X + 200, Y + 50)]),
    ]
    return gpd.GeoDataFrame(
        {"layer_pipe_id": ["A", "A", "B"], "geometry": lines},
        index=pd.Index(["A/1", "A/2", "B"], name="pipe_id"),
        crs="EPSG:32630",
    )


@pytest.fixture
def likelihood():
    return pd.DataFrame(
        {
            "pipe_id": ["A/1", "A/2", "B"],
            "stretch_id": ["A", "A", "B"],
            "length_m": [100.0, 50.0, 200.0],
        }
    )


@pytest.fixture
def stretches():
    return pd.DataFrame(
        {
            "stretch_id": ["A", "B"],
            "cell_id": "Z",
            "rank": [2, 1],
            "length_m": [150.0, 200.0],
            "in_set": [True, True],
            "from_m": [0.0, 60.0],
            "to_m": [90.0, 200.0],
        }
    )


def _truth(rows):
    points = gpd.GeoSeries.from_xy(
        [X + east for east, *_ in rows], [Y + north for _, north, *_ in rows], crs="EPSG:32630"
    ).to_crs("EPSG:4326")
    return pd.DataFrame(
        {
            "what": [row[3] for row in rows],
            "id": [f"L{n}" for n in range(len(rows))],
            "pipe_id": [row[2] for row in rows],
            "longitude": points.x,
            "latitude": points.y,
            "end_local": [row[4] for row in rows],
        }
    )


@pytest.fixture
def truth():
    return _truth(
        [
            (40, 0, "A", "leak", ""),
            (120, 0, "A", "leak", None),
            (10, 50, "B", "leak", "2025-05-01T10:00"),
            (10, 50, "B", "pool_filling", ""),
        ]
    )


@pytest.fixture
def truth_nights():
    return pd.DataFrame(
        {
            "zone_id": "Z",
            "night": ["2025-01-01", "2025-01-02", "2025-01-03", "2025-01-04"],
            "leakage_l_s": [0.5, 0.5, 0.5, 0.5],
            "affected": [False, False, True, False],
        }
    )


@pytest.fixture
def nights():
    return pd.DataFrame(
        {
            "cell_id": "Z",
            "night": pd.to_datetime(["2025-01-01", "2025-01-02", "2025-01-03", "2025-01-04"]),
            "status": ["measured", "measured", "measured", "no_inflow"],
            "leakage_l_s_low": [0.4, 0.6, 0.9, None],
            "leakage_l_s_high": [0.6, 1.0, 1.0, None],
        }
    )


@pytest.fixture
def scored(truth_nights, nights, likelihood, pipes):
    def run(truth, stretches, likelihood=likelihood):
        return score(
            truth,
            truth_nights,
            nights=nights,
            likelihood=likelihood,
            stretches=stretches,
            pipes=pipes,
        )

    return run


def test_nights_count_only_measured_and_fault_free(truth, stretches, scored):
    rows = scored(truth, stretches)
    whole = rows[(rows["measure"] == "nights_within_limits") & (rows["note"] == "all zones")]
    assert tuple(whole.iloc[0][["value", "of", "share"]]) == (1, 2, 0.5)
    width = rows[rows["measure"] == "median_limits_width_l_s"].iloc[0]
    assert width["value"] == pytest.approx(0.3)
    assert width["of"] == 0.5


def test_a_leak_off_the_piece_waits_until_all_pieces_are_walked(truth, stretches, scored):
    # L0 lies 40 m along A, on its piece of 0 to 90 m; L1 at 120 m beyond it. Before A comes the
    # piece of B, 140 m. L1 waits for both pieces, 230 m, and the 60 m left out of B.
    rows = scored(truth, stretches)
    held = rows[rows["measure"] == "leaks_in_search_set"].iloc[0]
    assert (held["value"], held["of"]) == (1, 2)
    walked = rows[rows["measure"] == "search_before_leak_m"]
    assert list(walked["value"]) == [140, 290]
    assert list(walked["share"]) == pytest.approx([140 / 350, 290 / 350])
    assert list(walked["note"].str.split(", ").str[1]) == ["in its set", "outside its set"]
    mean = rows[rows["measure"] == "mean_search_share"].iloc[0]
    assert mean["share"] == pytest.approx(215 / 350)


def test_a_stretch_outside_the_set_is_walked_whole(truth, stretches, scored):
    outside = stretches.assign(
        in_set=[False, True], from_m=[float("nan"), 60.0], to_m=[float("nan"), 200.0]
    )
    walked = scored(truth, outside).query("measure == 'search_before_leak_m'")
    assert list(walked["value"]) == [140, 140]
    assert walked["note"].str.endswith("outside its set").all()


def test_a_leak_that_is_not_ranked_costs_the_whole_zone(truth, stretches, likelihood, scored):
    unranked = stretches.assign(rank=stretches["rank"].where(stretches["stretch_id"] != "A"))
    unknown = likelihood[likelihood["pipe_id"] != "A/1"]
    for rows in (scored(truth, unranked), scored(truth, stretches, unknown)):
        walked = rows[rows["measure"] == "search_before_leak_m"]
        assert walked["share"].iloc[0] == 1
        assert walked["note"].iloc[0] == "L0: not ranked"


def test_nothing_to_compare_gives_empty_shares(
    truth, truth_nights, nights, likelihood, stretches, pipes
):
    rows = score(
        truth.iloc[:0],
        truth_nights.iloc[:0],
        nights=nights,
        likelihood=likelihood,
        stretches=stretches,
        pipes=pipes,
    )
    assert rows.loc[rows["measure"] == "leaks_in_search_set", "of"].iloc[0] == 0
    assert rows["share"].isna().all()


def test_inputs_are_left_alone(truth, truth_nights, nights, likelihood, stretches, pipes, scored):
    given = (truth, truth_nights, nights, likelihood, stretches, pipes)
    before = [frame.copy() for frame in given]
    scored(truth, stretches)
    for kept, now in zip(before, given, strict=True):
        pd.testing.assert_frame_equal(pd.DataFrame(kept), pd.DataFrame(now))
