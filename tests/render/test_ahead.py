from __future__ import annotations

from dataclasses import replace

import pandas as pd

from district.render import ahead


def changed(report, **tables):
    return replace(report, location=replace(report.location, **tables))


def test_zones_tell_the_range_over_their_pipes_and_the_walk_by_size(report):
    told = ahead.reach(report)
    assert told["sizes"] == ["0.2", "1"]
    assert (told["nights"], told["leak_l_s"]) == (14, 1.0)
    first, second, third = told["zones"]
    assert first["smallest"] == "0.06 to 0.18"
    assert first["by"] == "inflow on 50 %, pressure on 50 %"
    assert [w["leak_l_s"] for w in first["walks"]] == [0.2, 1.0]
    assert second["walks"][0]["shown_share"] == 0.6
    assert third["smallest"] == "0.38 to 0.46; none on 1 pipe part"
    assert third["walks"] == [None, None]


def test_a_zone_by_one_kind_alone(report):
    table = report.location.detectability.assign(shown_by="inflow")
    assert ahead.reach(changed(report, detectability=table))["zones"][0]["by"] == "inflow"
    none = table.assign(shown_by="", smallest_l_s=float("nan"))
    zone = ahead.reach(changed(report, detectability=none))["zones"][0]
    assert (zone["smallest"], zone["by"]) == ("-", "-")


def test_without_look_ahead_there_is_no_zone(report):
    found = report.location
    told = ahead.reach(
        changed(report, detectability=found.detectability.iloc[:0],
                zone_reach=found.zone_reach.iloc[:0])
    )  # fmt: skip
    assert told["zones"] == []
    assert told["nights"] is None


def test_devices_come_best_first_with_where_in_words(report):
    first, second = ahead.devices(report)
    assert (first["device"], first["where"]) == ("pressure logger", "on P21 (its part P21/2)")
    assert second["where"] == "on P13, with P14 metered or shut as well"


def test_a_stretch_is_judged_by_the_part_on_which_least_is_shown(report):
    table = ahead.by_stretch(report).set_index("stretch_id")
    assert table.loc["P21", "pipe_id"] == "P21/2"
    dark = report.location.detectability.copy()
    dark.loc[dark["pipe_id"] == "P21/1", "smallest_l_s"] = float("nan")
    table = ahead.by_stretch(changed(report, detectability=dark)).set_index("stretch_id")
    assert pd.isna(table.loc["P21", "smallest_l_s"])
    assert table.index.is_unique
