from __future__ import annotations

from dataclasses import replace
from xml.etree import ElementTree

from district.render.improve import INPUTS, improve, share_bar


def test_the_district_first_then_the_worst_zones_each_with_its_first_inputs(report):
    found = improve(report)
    assert [p["cell_id"] for p in found] == ["district", "Z1", "Z2"]
    for place in found:
        assert [i["rank"] for i in place["inputs"]] == [1, 2, 3][:INPUTS]
    assert found[0]["inputs"][0]["share"] == "60 %"
    assert found[1]["now"]["leakage_m3_d"] == 1.5 * 77


def test_the_district_stands_as_a_day_of_the_year_with_the_limits_of_today(report):
    year = {"volume_m3": 3650.0, "volume_m3_low": 2920.0, "volume_m3_high": 4380.0}
    real = report.balance.annual.iloc[[0]].assign(
        cell_id="district", component="real losses", **year
    )
    of_the_year = replace(report, balance=replace(report.balance, annual=real))
    now = improve(of_the_year)[0]["now"]
    assert now == {"leakage_m3_d": 10.0, "leakage_m3_d_low": 8.0, "leakage_m3_d_high": 12.0}
    unknown = replace(report, balance=replace(report.balance, annual=real.iloc[:0]))
    assert improve(unknown)[0]["now"] == {}


def test_a_bar_is_as_long_as_its_share_and_stays_in_its_frame():
    def filled(share):
        return float(list(ElementTree.fromstring(share_bar(share)))[1].get("width"))

    assert filled(0.5) == 40.0
    assert filled(0.0) == 0.0
    assert filled(1.7) == 80.0
    assert share_bar(float("nan")) == ""
