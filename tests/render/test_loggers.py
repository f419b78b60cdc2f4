from __future__ import annotations

import re
from dataclasses import replace

import pytest

from district.render.loggers import loggers, residual_bar, silent_loggers


def changed(report, checks):
    return replace(report, location=replace(report.location, logger_checks=checks))


def test_those_that_do_not_count_come_first(report):
    rows = loggers(report)
    assert [row["sensor_id"] for row in rows] == ["S<9>", "S1"]
    assert list(rows[0])[:-1] == list(report.location.logger_checks.columns)


def test_without_loggers_there_is_no_row(report):
    assert loggers(changed(report, report.location.logger_checks.iloc[:0])) == []


def test_the_bar_runs_from_before_to_after_on_one_scale():
    bar = residual_bar(2.0, 0.5, top_m=2.0)
    ring, dot = (float(x) for x in re.findall(r'circle cx="([\d.]+)"', bar))
    assert ring == pytest.approx(114.0)
    assert dot == pytest.approx(6 + 108 * 0.25)
    assert residual_bar(None, 0.5, top_m=2.0) == ""
    assert residual_bar(0.0, 0.0, top_m=0.0) == ""


def test_what_does_not_count_is_said_where_the_reader_decides(report):
    checks = report.location.logger_checks
    assert "2 pressure loggers; 1 of them does not count" in silent_loggers(report)
    said = silent_loggers(changed(report, checks.assign(used=False)))
    assert "does not explain the 2 pressure loggers well enough" in said
    assert silent_loggers(changed(report, checks.assign(used=True))) == ""
    assert "No pressure logger tells" in silent_loggers(changed(report, checks.iloc[:0]))


def test_without_any_logger_nothing_is_said(report):
    sensors = report.layers.sensors
    layers = replace(report.layers, sensors=sensors[sensors["kind"] != "pressure"])
    none = changed(report, report.location.logger_checks.iloc[:0])
    assert silent_loggers(replace(none, layers=layers)) == ""
