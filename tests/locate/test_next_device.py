"""Tests of `district.locate.next_device`."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from district.locate.listening import Listening
from district.locate.next_device import next_devices
from district.locate.outlook import Outlook, walks

Make = Callable[..., Outlook]
NAN = float("nan")
ASKED = {"flow_l_s": 1.0, "most_count": 4, "least_share": 0.01}


def with_logger(zone: Outlook, which: int) -> Outlook:
    """The zone as it stands once a logger that might come has come."""
    heard = zone.heard
    assert heard is not None
    place = heard.place.copy()
    place[which] = -1
    grown = Listening(
        heard.logger_id,
        heard.logger,
        place,
        heard.change_m,
        heard.noise,
        heard.drawn_m,
        heard.noise_share,
    )
    return replace(zone, heard=grown)


def mean_walk(zone: Outlook) -> float:
    return float(np.average(walks(zone, 1.0)[0], weights=zone.leaks_per_year))


def test_the_best_logger_is_the_one_found_by_trying_each(outlook_of: Make) -> None:
    zone = outlook_of(loggers=(9,), places=(3, 11, 20, 30, 39, 47), error_l_s=0.05)
    no_meters = replace(zone, start=np.zeros_like(zone.start), end=np.zeros_like(zone.end))
    table = next_devices([no_meters], **ASKED)
    assert set(table["kind"]) == {"pressure_logger"}
    before = mean_walk(no_meters)
    assert table["walk_before_m"][0] == pytest.approx(before, rel=0.02)
    tried = {1 + i: mean_walk(with_logger(no_meters, 1 + i)) for i in range(6)}
    best = min(tried, key=lambda i: tried[i])
    heard = no_meters.heard
    assert heard is not None
    assert table["pipe_id"][0] == no_meters.pipe_id[heard.place[best]]
    assert table["walk_after_m"][0] == pytest.approx(tried[best], rel=0.02)
    then = with_logger(no_meters, best)
    second = min(mean_walk(with_logger(then, 1 + i)) for i in range(6) if 1 + i != best)
    assert table["walk_after_m"][1] == pytest.approx(second, rel=0.02)


def test_each_device_begins_where_the_one_before_left_off(outlook_of: Make) -> None:
    table = next_devices([outlook_of(loggers=(9,), places=(3, 11, 20, 30, 39, 47))], **ASKED)
    assert len(table) == 4
    assert table["rank"].tolist() == [1, 2, 3, 4]
    assert table["walk_before_m"].to_numpy()[1:] == pytest.approx(
        table["walk_after_m"].to_numpy()[:-1]
    )
    for name in ("walk_before_m", "walk_after_m"):
        assert (table[f"{name}_low"] < table[name]).all()
        assert (table[name] < table[f"{name}_high"]).all()
    assert ((table["gain_share"] > 0) & (table["gain_share"] < 1)).all()
    assert table["pipe_id"].is_unique


def line(outlook_of: Make, pipes: int = 40) -> Outlook:
    """One street without loggers."""
    zone = outlook_of(rows=1, columns=pipes + 1)
    even = np.full(pipes, 100.0)
    return replace(
        zone, length_m=even, leaks_per_year=even / 1e4, drawn_per_year=even[:, None] / 1e4
    )


def test_a_meter_in_the_middle_halves_the_walk_of_a_street(outlook_of: Make) -> None:
    """Exact: even odds walk half the street; known to be in one half, half of that."""
    table = next_devices([line(outlook_of)], flow_l_s=1.0, most_count=1, least_share=0.01)
    (row,) = table.to_dict("records")
    assert (row["kind"], row["pipe_2_id"]) == ("zone_meter", "")
    assert row["pipe_id"] in ("P0019", "P0020")
    assert row["walk_before_m"] == pytest.approx(2000.0, rel=0.01)
    assert row["walk_after_m"] == pytest.approx(1000.0, rel=0.03)
    assert row["gain_share"] == pytest.approx(0.5, abs=0.02)


def test_a_ring_takes_two_and_is_judged_by_each(outlook_of: Make) -> None:
    zone = line(outlook_of)
    ring = replace(zone, end=(zone.start + 1) % 40)
    (row,) = next_devices([ring], flow_l_s=1.0, most_count=1, least_share=0.01).to_dict("records")
    assert row["pipe_2_id"] != ""
    other = replace(zone, cell_id="V2")
    first = next_devices([ring, other], flow_l_s=1.0, most_count=1, least_share=0.01)
    assert first["cell_id"].tolist() == ["V2"]


def test_the_zone_with_more_leaks_comes_first(outlook_of: Make) -> None:
    quiet = outlook_of(loggers=(9,), places=(3, 30, 47))
    busy = replace(
        quiet,
        cell_id="V2",
        leaks_per_year=10 * quiet.leaks_per_year,
        drawn_per_year=10 * quiet.drawn_per_year,
    )
    table = next_devices([quiet, busy], **ASKED)
    assert table["cell_id"][0] == "V2"


def test_nothing_is_listed_where_nothing_helps(outlook_of: Make) -> None:
    deaf = outlook_of(loggers=(9,), places=(3, 30), noise_m=1e4)
    deaf = replace(deaf, error_l_s=NAN)
    assert next_devices([deaf], **ASKED).empty
    assert next_devices([], **ASKED).empty
    assert next_devices([replace(outlook_of(), error_l_s=NAN)], **ASKED).empty
    none = replace(deaf, leaks_per_year=np.zeros_like(deaf.leaks_per_year))
    assert next_devices([none], **ASKED).empty


def test_it_is_the_same_each_time(outlook_of: Make) -> None:
    zone = outlook_of(loggers=(9,), places=(3, 11, 20))
    assert next_devices([zone], **ASKED).equals(next_devices([zone], **ASKED))
