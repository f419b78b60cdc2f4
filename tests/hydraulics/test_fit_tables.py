"""Tests of `district.hydraulics.fit_tables`."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from district.hydraulics.fit_tables import Fit, doubted, group_table, judged, no_fit
from district.hydraulics.model import Reals
from district.hydraulics.update import Offsets
from district.schema import check
from district.schema.located import CALIBRATION, LOGGER_CHECKS
from tests.hydraulics.known_zone import known_zone

ZONE = known_zone(3)
COUNT = len(ZONE.drawn.logger_id)
COURSE = np.array([0.0, -0.5, -1.0, -3.5])[:, None]


def _fit(missed_m: Reals | float = 0.05) -> Fit:
    measured = 60.0 + COURSE * np.ones(COUNT)
    return Fit(
        drawn=ZONE.drawn,
        measured_m=measured + 0.4,
        hours_count=np.full((4, COUNT), 12),
        before_m=measured - 1.0,
        after_m=measured + missed_m * np.outer([1, -1, 1, -1], (-1) ** np.arange(COUNT)),
        offset=Offsets(np.full(COUNT, 0.4), np.full(COUNT, 0.3), np.full(COUNT, 0.1)),
    )


def test_a_logger_is_told_before_and_after_and_beside_a_flat_line() -> None:
    table, usable, reason = judged(_fit())
    tidy, findings = check(LOGGER_CHECKS, table, source="test")
    assert findings == ()
    assert usable.all()
    assert reason == ""
    row = tidy.iloc[0]
    assert row["hours_count"] == 48
    assert row["before_m"] == pytest.approx(1.4)
    assert row["after_m"] == pytest.approx(0.05)
    # By hand: mean -1.25, deviations 1.25, 0.75, 0.25, -2.25; root of 7.25 / 4.
    assert row["course_m"] == pytest.approx(np.sqrt(7.25 / 4))
    assert row["offset_m"] == 0.3
    assert row["offset_m_high"] - row["offset_m_low"] == pytest.approx(2 * 1.96 * 0.1)


@pytest.mark.parametrize(("missed_m", "used"), [(1.3, True), (1.4, False), (1.6, False)])
def test_one_the_model_follows_worse_than_a_flat_line_is_no_evidence(
    missed_m: float, used: bool
) -> None:
    missed = np.full(COUNT, 0.05)
    missed[2] = missed_m
    table, usable, reason = judged(_fit(missed))
    assert usable[2] == used
    assert np.delete(usable, 2).all()
    assert reason == ""
    assert table["said"][2] == (
        ""
        if used
        else f"The model misses its course by {missed_m:.2f} m, a flat line by 1.35 m. "
        "Look for a valve near it that stands otherwise than drawn, or a gauge that drifts."
    )


def test_a_fed_head_that_varies_for_all_loggers_alike_is_no_fault_of_theirs() -> None:
    """The pump of the source adds metres by day; locating goes by changes against the mean."""
    fit = _fit()
    fed = np.array([0.0, 4.0, 6.0, 1.0])[:, None]
    level = 60.4 + 0.02 * COURSE * np.ones(COUNT)
    fed_so = replace(fit, measured_m=level + fed, after_m=fit.after_m * 0 + 60.0)
    table, usable, reason = judged(fed_so)
    assert usable.all()
    assert reason == ""
    assert (table["after_m"] < 0.05).all()
    # One that misses its course for itself, beside them, still shows.
    fed_so.measured_m[:, 5] += [1.6, -1.6, 1.6, -1.6]
    table, usable, _ = judged(fed_so)
    assert np.flatnonzero(~usable).tolist() == [5]
    assert table["said"][5].startswith("The model misses its course by 1.6")


def test_two_loggers_of_a_zone_do_not_tell_what_it_is_fed_with() -> None:
    fit = _fit()
    fit.measured_m[:, 2:] = np.nan
    fit.measured_m[:, :2] += np.array([0.0, 4.0, 6.0, 1.0])[:, None]
    assert not judged(fit)[1].any()


def test_a_level_that_is_off_is_told_as_a_level() -> None:
    fit = _fit(0.0)
    fit.measured_m[:, 2] += 1.8
    table, usable, _ = judged(fit)
    assert np.flatnonzero(~usable).tolist() == [2]
    assert table["said"][2] == (
        "It reads 1.80 m above the model at all hours, its usual offset apart. "
        "Look to the gauge's level and zero."
    )


def test_a_flat_course_that_is_followed_is_evidence() -> None:
    fit = _fit(0.2)
    measured = 60.4 + 0.01 * COURSE * np.ones(COUNT)
    flat = replace(fit, measured_m=measured, after_m=fit.after_m * 0 + 60.2)
    assert judged(flat)[1].all()


def test_a_gauge_that_always_reads_the_same_is_no_evidence() -> None:
    fit = _fit()
    fit.measured_m[:, 2] = 60.4
    fit.after_m[:, 2] = 60.0
    table, usable, _ = judged(fit)
    assert usable.tolist() == [g != 2 for g in range(COUNT)]
    assert "stuck" in table["said"][2]


def test_a_model_that_follows_few_loggers_is_none_as_a_whole() -> None:
    missed = np.full(COUNT, 3.0)
    missed[:2] = 0.05
    table, usable, reason = judged(_fit(missed))
    assert not usable.any()
    assert not table["used"].any()
    assert (table["said"][:2] == reason).all()
    assert (table["said"][2:] != reason).all()
    assert reason.startswith("The model of the pipes follows 2 of 8 pressure loggers: too few")


def test_groups_rest_on_readings_where_these_narrow_them() -> None:
    links = len(ZONE.drawn.model.link_id)
    weight = np.zeros((2, links))
    weight[0, :2] = 0.5
    weight[1, 2] = 1.0
    table = group_table(
        ZONE.drawn, ["a", "b"], weight,
        (np.array([np.log(0.8), 0.0]), np.array([0.05, 0.19]), np.array([0.2, 0.2])),
    )  # fmt: skip
    tidy, findings = check(CALIBRATION, table, source="test")
    assert findings == ()
    assert tidy["rests_on"].tolist() == ["readings", "assumption"]
    assert tidy["factor_index"][0] == pytest.approx(0.8)
    assert tidy["factor_index_low"][0] == pytest.approx(0.8 * np.exp(-0.098))
    assert tidy["pipes_km"][0] == pytest.approx(ZONE.drawn.model.length_m[:2].sum() / 1000)


def test_without_a_fit_the_model_stays_as_drawn() -> None:
    fitted = no_fit(ZONE.drawn, 3, "Why.")
    assert fitted.reason == "Why."
    assert not fitted.usable.any()
    assert fitted.roughness.shape == (3, len(ZONE.drawn.model.link_id))
    assert fitted.loggers["said"].tolist() == ["Why."] * COUNT
    assert check(LOGGER_CHECKS, fitted.loggers, source="test")[1] == ()


def test_doubt_is_told_beyond_the_usual() -> None:
    assert doubted(2.4) == ""
    assert "2.0 times as far" in doubted(4.0)
