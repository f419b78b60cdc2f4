"""Probability by pipe, order of search, and sets to walk."""

from __future__ import annotations

from collections.abc import Callable
from types import SimpleNamespace
from typing import Any, cast

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest

from district.locate import locate_leaks, spots_of
from district.locate.leaks import searched
from district.locate.pooling import GROUP_SHAPE, USUAL_SHAPE
from district.locate.prior import leak_prior
from district.locate.rates import published_mains, published_services
from district.locate.sought import sought_leaks, true_excess
from district.locate.spots import Evidence, Heard, Seen
from district.network import Network
from district.schema import empty
from district.schema.field_records import CORRELATIONS, SIGHTINGS, STEP_TESTS, SURVEYS
from district.schema.located import CALIBRATION, EVIDENCE, LOGGER_CHECKS
from district.schema.outputs import LIKELIHOOD, SEARCH_SETS, STRETCHES
from district.schema.stored import ACOUSTIC_NIGHTS, ALARMS
from district.settings import Settings
from tests.locate.field_scene import LONDON, rows, street

Make = Callable[..., Any]
SETTINGS = Settings()


@pytest.fixture
def district(network_of: Make, pipes_of: Make, zones_of: Make, breaks_of: Make) -> dict[str, Any]:
    table = pipes_of(400, cells=4, seed=7)
    zones = {"V0": (1.0, 0.5, 1.5), "V1": (3.0, 2.0, 4.0), "V2": (0.4, -0.2, 1.0)}
    rows = [(f"20{y}-03-01", f"P{7 * y:05d}") for y in range(10, 24)]
    return {
        "network": network_of(table),
        "breaks": breaks_of(rows),
        "zones": zones_of({**zones, "V3": (-0.5, -1.0, 0.0)}),
    }


def located(d: dict[str, Any], events: pd.DataFrame) -> Any:
    return locate_leaks(d["network"], d["breaks"], d["zones"], events, settings=SETTINGS, year=2024)


def test_probabilities_sum_to_one_in_each_zone(
    district: dict[str, Any], no_events: pd.DataFrame
) -> None:
    rows = located(district, no_events).likelihood
    assert rows.groupby("cell_id")["probability_share"].sum().to_numpy() == pytest.approx(1)
    for name in ("probability_share", "prior_leaks_per_year"):
        assert (rows[f"{name}_low"] <= rows[name]).all()
        assert (rows[name] <= rows[f"{name}_high"]).all()


def test_rows_are_the_pipes_in_order_and_tables_as_declared(
    district: dict[str, Any], no_events: pd.DataFrame
) -> None:
    found = located(district, no_events)
    assert list(found.likelihood["pipe_id"]) == sorted(district["network"].pipes.index)
    assert tuple(found.likelihood.columns) == LIKELIHOOD.names()
    assert tuple(found.search_sets.columns) == SEARCH_SETS.names()
    assert tuple(found.stretches.columns) == STRETCHES.names()
    assert sorted(found.likelihood["rank"]) == list(range(1, 401))


def test_order_of_rows_and_direction_of_pipes_change_nothing(
    district: dict[str, Any], no_events: pd.DataFrame
) -> None:
    first = located(district, no_events)
    network: Network = district["network"]
    mixed = network.pipes.sample(frac=1, random_state=1)
    turned = mixed.assign(
        start_position=mixed["end_position"],
        end_position=mixed["start_position"],
        geometry=gpd.GeoSeries(mixed.geometry).reverse(),
    )
    other = {
        "network": Network(**{**vars(network), "pipes": turned}),
        "breaks": district["breaks"].iloc[::-1],
        "zones": district["zones"].iloc[::-1],
    }
    second = located(other, no_events)
    along = ["along_m", "along_m_low", "along_m_high"]
    pd.testing.assert_frame_equal(
        first.likelihood.drop(columns=along), second.likelihood.drop(columns=along)
    )
    a, b = (found.likelihood[along].to_numpy() for found in (first, second))
    length = first.likelihood["length_m"].to_numpy()[:, None]
    # A connection that taps between two spots is at the later one: 10 m apart at most.
    np.testing.assert_allclose(a, length - b[:, [0, 2, 1]], atol=10)
    pd.testing.assert_frame_equal(first.search_sets, second.search_sets)


def test_inputs_are_not_written_to(district: dict[str, Any], no_events: pd.DataFrame) -> None:
    before = {
        "pipes": district["network"].pipes.copy(),
        "breaks": district["breaks"].copy(),
        "zones": district["zones"].copy(),
    }
    located(district, no_events)
    pd.testing.assert_frame_equal(before["pipes"], district["network"].pipes)
    pd.testing.assert_frame_equal(before["breaks"], district["breaks"])
    pd.testing.assert_frame_equal(before["zones"], district["zones"])


def test_only_zones_with_something_to_find_get_a_set_and_come_first(
    district: dict[str, Any], no_events: pd.DataFrame
) -> None:
    found = located(district, no_events)
    assert list(found.search_sets["cell_id"]) == ["V1", "V0"]
    assert set(found.likelihood.loc[found.likelihood["in_set"], "cell_id"]) == {"V0", "V1"}
    by_zone = found.likelihood.groupby("cell_id")["rank"]
    assert max(by_zone.max()[["V0", "V1"]]) < by_zone.min()["V2"]
    assert by_zone.max()["V2"] < by_zone.min()["V3"]


def test_search_goes_by_flow_found_for_each_metre(
    district: dict[str, Any], no_events: pd.DataFrame, network_of: Make, pipes_of: Make
) -> None:
    network = network_of(pipes_of(400, cells=4, seed=7).assign(connections_count=0))
    rows = located({**district, "network": network}, no_events).likelihood.sort_values("rank")
    rows = rows[rows["cell_id"].isin(["V0", "V1"])]
    found = rows["flow_l_s"] * rows["probability_share"] / rows["length_m"]
    assert found.is_monotonic_decreasing


def test_an_open_leak_makes_a_zone_worth_a_search(
    district: dict[str, Any], no_events: pd.DataFrame
) -> None:
    leak = {
        "event_id": "E-V3",
        "place_kind": "zone",
        "place_id": "V3",
        "kind": "leak",
        "state": "open",
        "size_l_s": 0.3,
        "size_l_s_low": 0.2,
        "size_l_s_high": 0.4,
    }
    events = pd.DataFrame([leak]).reindex(columns=no_events.columns)
    sets = located(district, events).search_sets.set_index("cell_id")
    assert sets.loc["V3", "flow_l_s"] == 0.3
    assert sets.loc["V3", "held_share"] >= 0.9


def open_leaks(no_events: pd.DataFrame, **sizes: float) -> pd.DataFrame:
    """One open leak of zone V1 by id."""
    rows = [
        {
            "event_id": name,
            "place_kind": "zone",
            "place_id": "V1",
            "kind": "leak",
            "state": "open",
            "start": pd.Timestamp("2024-03-01"),
            "size_l_s": size,
            "size_l_s_low": 0.9 * size,
            "size_l_s_high": 1.1 * size,
        }
        for name, size in sizes.items()
    ]
    return pd.DataFrame(rows).reindex(columns=no_events.columns)


def test_every_leak_has_its_set_and_evidence_and_the_zone_their_sum(
    district: dict[str, Any], no_events: pd.DataFrame
) -> None:
    found = located(district, open_leaks(no_events, E1=0.4, E2=0.3))
    sets = found.search_sets
    # V1 has an excess of 3 L/s (2 to 4): beyond both leaks 2.3 remain.
    assert list(sets["sought_id"]) == ["V1", "V0", "E1", "E2"]
    assert list(sets["flow_l_s"]) == pytest.approx([2.3, 1.0, 0.4, 0.3])
    assert sets.set_index("sought_id").loc["E1", "start"] == pd.Timestamp("2024-03-01")
    assert (sets["held_share"] >= 0.9).all()
    in_zone = found.likelihood[found.likelihood["cell_id"] == "V1"]
    assert in_zone["flow_l_s"].to_numpy() == pytest.approx(3.0)
    assert in_zone["probability_share"].sum() == pytest.approx(1)
    assert (in_zone["any_leak_share"] >= in_zone["probability_share"]).all()
    assert tuple(found.evidence.columns) == EVIDENCE.names()
    told = found.evidence[found.evidence["sought_id"] == "E1"]
    assert list(told["kind"]) == ["prior", "size"]
    assert told["walk_m"].iloc[-1] == pytest.approx(
        1000 * sets.set_index("sought_id")["set_km"]["E1"]
    )
    assert not found.evidence.duplicated(list(EVIDENCE.key)).any()


def test_sets_of_stretches_are_the_pieces_that_stretches_show(
    district: dict[str, Any], no_events: pd.DataFrame
) -> None:
    found = located(district, open_leaks(no_events, E1=0.4))
    walked = found.stretches[found.stretches["in_set"]]
    length = walked["to_m"] - walked["from_m"]
    assert (length > 0).all()
    assert (walked["to_m"] <= walked["length_m"] + 1e-6).all()
    assert not (walked["sought_ids"] == "").any()
    outside = found.stretches[~found.stretches["in_set"]]
    assert outside[["from_m", "to_m"]].isna().all(axis=None)
    # V0 has one leak to look for: its set is as long as the pieces shown.
    own = walked["cell_id"] == "V0"
    sets = found.search_sets.set_index("sought_id")
    assert length[own].sum() / 1000 == pytest.approx(sets["set_km"]["V0"])


def test_a_crew_is_sent_to_30_m_of_a_long_pipe(
    network_of: Make, breaks_of: Make, zones_of: Make, no_events: pd.DataFrame
) -> None:
    lengths = [400.0, 80.0, 120.0]
    network = network_of(pd.DataFrame({"pipe_id": ["A", "B", "C"], "length_m": lengths}))
    prior = leak_prior(network, breaks_of([]), year=2024)
    spots = spots_of(network, prior)
    at = spots.share * np.array(lengths)[spots.pipe]
    heard = np.where((spots.pipe == 0) & (at > 250) & (at < 280), 0.0, -20.0)
    zones = zones_of({"V1": (1.0, 0.5, 1.5)})
    excess = true_excess(zones, no_events)
    leaks = sought_leaks(excess, no_events)
    told = {"V1": [Evidence("V1", "correlator", "heard", heard)]}
    _, tables = searched(prior, spots, excess, leaks, told, settings=SETTINGS)
    (first, *_) = tables["stretches"].to_dict("records")
    assert (first["stretch_id"], first["rank"]) == ("A", 1)
    assert (first["from_m"], first["to_m"]) == (pytest.approx(250), pytest.approx(280))
    assert first["along_m"] == pytest.approx(265)
    assert first["along_m_low"] == pytest.approx(250.75)
    assert tables["search_sets"]["set_km"].to_list() == pytest.approx([0.03])
    assert tables["likelihood"]["in_set"].to_list() == [True, False, False]
    # By the prior all three pipes; the last stretch only as far as 0.9 of the length needs.
    assert tables["evidence"]["walk_m"].to_list() == pytest.approx([550.0, 30.0])


def test_a_model_that_fits_badly_is_no_evidence_and_that_is_said(
    district: dict[str, Any], no_events: pd.DataFrame
) -> None:
    reason = "The loggers differ from the model by 3 m."
    known = SimpleNamespace(
        reason=reason,
        loggers=empty(LOGGER_CHECKS),
        groups=empty(CALIBRATION),
        use_index=(),
    )
    heard = cast(Heard, SimpleNamespace(calibrated=known, demands=None))
    events = open_leaks(no_events, E1=0.4)
    found = locate_leaks(
        district["network"],
        district["breaks"],
        district["zones"],
        events,
        settings=SETTINGS,
        year=2024,
        heard=heard,
    )
    rows = found.evidence[found.evidence["kind"] == "pressure"]
    assert not rows["used"].any()
    assert set(rows["said"]) == {reason}
    assert any(line.endswith(reason) for line in found.basis.limits)
    pd.testing.assert_frame_equal(found.likelihood, located(district, events).likelihood)


def test_no_zone_with_anything_to_find_gives_an_empty_set_table(
    district: dict[str, Any], no_events: pd.DataFrame, zones_of: Make
) -> None:
    found = located({**district, "zones": zones_of({})}, no_events)
    assert found.search_sets.empty
    assert not found.likelihood["in_set"].any()
    assert found.likelihood["flow_l_s"].isna().all()


@pytest.mark.parametrize(
    ("column", "less", "more"),
    [("installed_year", 1990.0, 1940.0), ("length_m", 50.0, 150.0), ("connections_count", 1, 9)],
)
def test_older_longer_and_busier_pipes_are_likelier(
    network_of: Make,
    breaks_of: Make,
    zones_of: Make,
    no_events: pd.DataFrame,
    column: str,
    less: float,
    more: float,
) -> None:
    table = pd.DataFrame({"pipe_id": ["A", "B"], column: [less, more]})
    zones = zones_of({"V1": (1.0, 0.5, 1.5)})
    found = locate_leaks(
        network_of(table), breaks_of([]), zones, no_events, settings=SETTINGS, year=2024
    )
    a, b = found.likelihood["probability_share"]
    assert a < b


def test_empty_break_record_and_lost_breaks_are_said(
    district: dict[str, Any], no_events: pd.DataFrame, breaks_of: Make
) -> None:
    said = located({**district, "breaks": breaks_of([])}, no_events).basis.limits
    assert said[0].startswith("No break on record fits a pipe")
    lost = located({**district, "breaks": breaks_of([("2020-01-01", "?")])}, no_events)
    assert lost.basis.limits[1].endswith("1 of 1 breaks on record.")


def drawn_breaks(
    table: pd.DataFrame, rates: np.ndarray, random: np.random.Generator
) -> list[tuple[str, str]]:
    """Fifteen years of breaks; none before a pipe was laid."""
    laid = table["installed_year"].fillna(1900.0)
    rows = []
    for pipe, rate, since in zip(table["pipe_id"], rates, laid, strict=True):
        years = random.integers(2009, 2024, random.poisson(15 * rate))
        rows += [
            (f"{year}-{random.integers(1, 13):02d}-15", pipe) for year in years if year >= since
        ]
    return rows


def test_sets_hold_the_leaks_they_promise_to(
    network_of: Make, pipes_of: Make, breaks_of: Make, zones_of: Make, no_events: pd.DataFrame
) -> None:
    """Leaks and 15 years of breaks drawn from the stated model: 90 % sets hold 87 to 93 %."""
    random = np.random.default_rng(11)
    held, wanted, trials = 0, 0.0, 0
    for seed in range(12):
        table = pipes_of(240, cells=3, seed=seed)
        materials = table["material"].unique()
        level = dict(zip(materials, random.gamma(GROUP_SHAPE, 1 / GROUP_SHAPE, 5), strict=True))
        own = random.gamma(USUAL_SHAPE, 1 / USUAL_SHAPE, len(table))
        mains = published_mains(table, year=2024) * table["material"].map(level).to_numpy() * own
        services = published_services(
            table["connections_count"].to_numpy(float), np.zeros(len(table))
        ) * random.gamma(USUAL_SHAPE, 1 / USUAL_SHAPE, len(table))
        history = pd.concat(
            [
                breaks_of(drawn_breaks(table, mains, random)),
                breaks_of(drawn_breaks(table, services, random), kind="service"),
            ]
        )
        zones = zones_of({f"V{c}": (1.0, 0.5, 1.5) for c in range(3)})
        found = locate_leaks(
            network_of(table), history, zones, no_events, settings=SETTINGS, year=2024
        )
        chance = (mains + services) / (mains + services).sum()
        leak = random.choice(len(table), 400, p=chance)
        held += int(found.likelihood["in_set"].to_numpy()[leak].sum())
        wanted += found.search_sets["held_share"].mean()
        trials += 400
    assert 0.87 <= held / trials <= 0.93
    assert wanted / 12 == pytest.approx(0.9, abs=0.005)


def test_stretches_hold_what_their_parts_hold(
    network_of: Make, pipes_of: Make, breaks_of: Make, zones_of: Make, no_events: pd.DataFrame
) -> None:
    network = network_of(pipes_of(40, cells=2, seed=4))
    zones = zones_of({"V0": (1.0, 0.5, 1.5), "V1": (0.4, 0.2, 0.6)})
    found = locate_leaks(network, breaks_of([]), zones, no_events, settings=SETTINGS, year=2024)
    parts = found.likelihood.groupby("stretch_id")
    whole = found.stretches.set_index("stretch_id")
    for name in ("length_m", "probability_share", "prior_leaks_per_year"):
        np.testing.assert_allclose(parts[name].sum(), whole[name].sort_index(), rtol=1e-9)
    assert parts["in_set"].nunique().eq(1).all()
    assert list(whole["rank"]) == list(range(1, len(whole) + 1))
    assert (whole["probability_share_low"] <= whole["probability_share"]).all()
    assert (whole["probability_share"] <= whole["probability_share_high"]).all()
    in_order = found.likelihood.sort_values("rank")["stretch_id"].drop_duplicates()
    assert list(in_order) == list(whole.index)


def test_what_crews_found_sends_them_to_the_piece(
    zones_of: Make, breaks_of: Make, no_events: pd.DataFrame
) -> None:
    """A correlation between two valves 200 m apart hears the leak midway; the rest was walked."""
    nothing = {
        "step_tests": empty(STEP_TESTS),
        "sightings": empty(SIGHTINGS),
        "alarms": empty(ALARMS),
        "acoustic_nights": empty(ACOUSTIC_NIGHTS),
    }
    seen = Seen(
        surveys=rows(SURVEYS, {"date": "2025-11-02", "pipe_id": "P3"}),
        correlations=rows(
            CORRELATIONS,
            {"date": "2025-11-05", "first_id": "V1", "other_id": "V2", "delay_ms": 0.0},
        ),
        **nothing,
    )
    events = open_leaks(no_events, E1=0.4).assign(place_id="A", start=pd.Timestamp("2025-10-20"))
    given: tuple[Any, ...] = (street(), breaks_of([]), zones_of({"A": (0.4, 0.3, 0.5)}), events)
    found = locate_leaks(*given, settings=LONDON, year=2025, seen=seen)
    assert list(found.evidence["kind"]) == ["prior", "size", "correlator", "survey"]
    assert found.evidence["used"].all()
    first = found.stretches.iloc[0]
    assert first["stretch_id"] == "P2"
    # 310 m along the street is 110 m along P2.
    assert first["along_m"] == pytest.approx(110, abs=5)
    assert first["from_m"] <= 110 <= first["to_m"]
    before = locate_leaks(*given, settings=LONDON, year=2025).search_sets["set_km"].sum()
    assert found.search_sets["set_km"].sum() < before
    walked = found.evidence.set_index("kind")
    assert walked.loc["correlator", "moved_share"] > walked.loc["survey", "moved_share"] > 0
