from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import LineString, MultiLineString

from district.render import palette
from district.render.renewal_features import (
    PARTS,
    number_features,
    pipe_features,
    risk_scale,
    told,
    works_named,
)
from tests.render.made_renewal import AWKWARD, bare, made

PLAN = made()
LABELS = [label for _, labels in PARTS for label in labels]


def said(pipe_id: str, plan=PLAN) -> dict[str, str]:
    row = next(r for r in plan.pipes.to_dict("records") if r["pipe_id"] == pipe_id)
    texts = told(row, plan, works_named(plan.projects))
    assert len(texts) == len(LABELS)
    return {k: t.replace("\u00a0", " ") for k, t in zip(LABELS, texts, strict=True)}


def test_every_input_of_a_score_stands_in_words():
    of = said("P0")
    assert of["On the list"].endswith(", Mill Lane")
    assert of["Variants that list it"] == "90 %"
    assert of["Breaks cost"].startswith("EUR ")
    assert of["Told by"] in ("the record of breaks", "published rates alone")
    assert of["Above it"] == "main road, 80 % of its length"
    assert of["Zone"] == "O'Hara & Söhne"
    assert of["Against its like"].endswith("times as many breaks")
    assert of["... in order"].endswith(" of 60")
    assert of["Growth"] == "3.1 % (1.9 to 4.3) a year"


def test_what_is_not_known_is_said_or_left_out():
    of = said("P3")
    assert of["Laid"] == "not known"
    assert of["Age"].endswith("years, assumed")
    assert (of["Ground"], of["Street"]) == ("", "")
    assert of["On the list"] == "no"
    assert said("P1")["Above it"] == "nothing told"


def test_lines_to_touch_to_see_and_cased_where_listed():
    scale = risk_scale(PLAN)
    found = pipe_features(PLAN, scale)
    roles = [f["properties"]["role"] for f in found["rates"]]
    assert roles == ["touch"] * 60 + ["line"] * 60
    grades = [f["properties"]["grade"] for f in found["rates"][60:]]
    assert grades == sorted(grades)
    listed = int((PLAN.pipes["project_id"] != "").sum())
    assert [f["properties"]["role"] for f in found["works"]] == ["casing"] * listed + [
        "gap"
    ] * listed
    assert len(found["risk"]) == 60


def test_names_are_escaped_and_no_text_of_the_users_is_left_raw():
    touched = pipe_features(PLAN, None)["rates"]
    one = next(f["properties"] for f in touched if "alert" in f["properties"].get("title", ""))
    assert one["title"] == "Pipe P7/&lt;script&gt;alert(1)&lt;/script&gt;&quot;&amp;"
    assert all("<" not in t and "{" not in t for f in touched for t in
               f["properties"].get("told", ()))  # fmt: skip
    assert said(AWKWARD)["Street"].startswith("Upper <script>")


def test_numbers_stand_on_the_list_in_order_along_the_longest_piece():
    lines = PLAN.lines.set_index("pipe_id")
    first = PLAN.projects.iloc[0]
    own = str(first["pipe_ids"]).split(", ")
    long = LineString([(402000, 5652000), (402000, 5653000)])
    lines.loc[own[0], "geometry"] = MultiLineString(
        [long, LineString([(402000, 5652000), (402010, 5652000)])]
    )
    found = number_features(replace(PLAN, lines=lines.reset_index().set_crs(PLAN.lines.crs)))
    assert [f["properties"]["label"] for f in found] == [f"<b>{n}</b>" for n in range(1, 9)]
    east, north = found[0]["geometry"]["coordinates"]
    middle = PLAN.lines.iloc[:1].set_geometry([long.interpolate(500)], crs=PLAN.lines.crs)
    at = middle.to_crs(4326).geometry.iloc[0]
    assert (east, north) == pytest.approx((at.x, at.y), abs=1e-6)


def test_risk_has_classes_of_its_own_and_none_where_no_break_costs():
    scale = risk_scale(PLAN)
    top = (PLAN.pipes["risk_currency_year"] / PLAN.pipes["length_m"]).max()
    assert scale.breaks[-1] <= top < scale.breaks[-1] * 10
    free = PLAN.pipes.assign(risk_currency_year=0.0)
    assert risk_scale(replace(PLAN, pipes=free)) is None
    unknown = PLAN.pipes.assign(risk_currency_year=np.nan)
    assert risk_scale(replace(PLAN, pipes=unknown)) is None


def test_nothing_listed_and_a_pipe_without_a_line():
    plan = bare()
    assert pipe_features(plan, None)["works"] == []
    assert number_features(plan) == []
    fewer = replace(plan, lines=plan.lines.iloc[1:])
    assert len(pipe_features(fewer, None)["rates"]) == 2 * 59


def test_classes_of_breaks_hold_the_published_rates_apart():
    # Folkman 2018 (see break_rates): cast iron 34.8 and PVC 2.3 breaks for each 100 miles a year.
    assert palette.BREAKS.place(34.8 / 1.609344) == 3
    assert palette.BREAKS.place(2.3 / 1.609344) == 1
