from __future__ import annotations

import re
from dataclasses import replace
from html.parser import HTMLParser

import pandas as pd
import pytest

from district.render import explain
from district.render.report import report_page
from district.results import Basis, Events, ShutOff
from district.schema.event_tables import SHUTOFF_CAUTION
from district.words import PRESSURE_CAUTION, STEP_TEST_CAUTION

VOID = {"meta", "img", "br", "link", "hr", "input"}


class Outline(HTMLParser):
    """Tags that open and close, in order."""

    def __init__(self):
        super().__init__(convert_charrefs=True)
        self.open, self.tags, self.text = [], [], []

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        assert self.open.pop() == tag, f"</{tag}> closes another"

    def handle_data(self, data):
        self.text.append(data)


def read(page):
    outline = Outline()
    outline.feed(page)
    assert outline.open == []
    return outline


@pytest.fixture(scope="module")
def page(built):
    return report_page(built)


@pytest.fixture(scope="module")
def whole_text(built):
    return said(built)


def test_page_is_well_formed_and_the_same_twice(report, page):
    assert page == report_page(report)
    read(page)


def test_no_script_and_no_link_that_loads_anything(page):
    tags = read(page).tags
    assert "script" not in {tag for tag, _ in tags}
    assert "link" not in {tag for tag, _ in tags}
    for tag, attributes in tags:
        assert not any(name.startswith("on") for name in attributes), tag
        if "src" in attributes:
            assert attributes["src"].startswith("data:image/svg+xml;base64,")
        if "href" in attributes:
            assert re.match(r"(map\.html|results\.|tables/|#)", attributes["href"])
    assert "url(" not in page


def test_names_come_out_as_they_were_typed(page):
    text = "".join(read(page).text)
    assert "Lindental & <script>alert(1)</script>: how much leaks" in text
    assert 'Mühlgasse "alt" & {{ 7 * 7 }} {% raw %} ${1+1} `tick` (Z2)' in text
    assert "Žižkov-Süd (O'Hara & Söhne)" in text
    assert "&amp;" not in text


def test_answers_then_findings_then_zones(page):
    order = [
        page.index(words)
        for words in (
            "How much leaks?",
            "Findings in the data",
            "Zones, worst first",
            "Since when: events to act on",
            "Did the repair work?",
            "Buildings where water never stops",
            "Alarm sensors",
            "Which zone first",
            "Valves that shut by themselves",
        )
    ]
    assert order == sorted(order)
    assert "1 error and 40 warnings" in page
    assert "<summary>40 places</summary>" in page


def test_every_section_is_there(report):
    page = report_page(report).replace("\u00a0", " ")
    for words in (
        "Stretches to search first",
        "Night flow, zone by zone",
        "Annual water balance",
        "Indicators of the year",
        "What each figure means",
        "What the figures rest on",
        "Meters and sensors",
        "licensed people",
        "Why the leakage index is not valid for 2 zones",
        "Household night use is 1.7 L/property/h",
        "pipes, diameter_mm (inside diameter): 100.0 mm in 3 rows left empty.",
        "Z1: 4 nights without inflow readings.",
        "2031-03-01 00:00",
        "flow in a building that never stops",
        "Meters that disagree",
        "15 % too little (9 to 21)",
        "Which zone first",
        "7 or longer",
        "Night leakage by month",
        "Large night users",
        "Two ways of reckoning the losses",
        "2 zones: 1 with a gap beyond the limits",
        "What to measure better",
    ):
        assert words in page, words
    assert page.count("<figure") == 5
    assert '<tr class="l3">\n<td>Unauthorised consumption</td>' in page


def test_a_wrong_meter_stands_on_the_first_screen_before_the_caution(report, page):
    told, caution = page.index("A meter to check before a leak."), page.index("Before anyone acts.")
    assert page.index("Which stretches?") < told < caution
    sound = report.balance.meter_checks.assign(verdict="agrees")
    calm = report_page(replace(report, balance=replace(report.balance, meter_checks=sound)))
    assert "A meter to check before a leak." not in calm
    assert "All 2 meters that can be checked agree" in calm


def test_what_repeats_for_every_zone_is_said_once(page):
    text = "".join(read(page).text)
    assert text.count("Night pressure did not step.") == 1
    assert text.count(PRESSURE_CAUTION) == 1
    assert "Assumed: no logger." in text


def test_the_usual_exponent_is_shown_as_it_is_set(page):
    # 1.15 with limits of half a unit would else be rounded away from what the settings say.
    assert page.count("<b>1.15</b> <small>0.5 to 1.5</small>") == 1


def test_causes_are_given_only_where_the_two_ways_part(page):
    text = "".join(read(page).text)
    for cause in (1, 3, 4):
        assert f"cause {cause} of district" in text
        assert f"cause {cause} of Z2" in text
    assert "cause 2 of district" not in text, "it cannot be"
    assert "cause 5 of district" not in text, "three are enough"
    assert "of Z1" not in text.split("likeliest first")[1].split("Pressure")[0]


def test_many_zones_are_folded(report):
    def repeated(table):
        return pd.concat([table.assign(cell_id=f"N{n}") for n in range(30)], ignore_index=True)

    balance = report.balance
    many = replace(
        balance,
        economics=repeated(balance.economics.iloc[1:2]),
        zone_pressure=repeated(balance.zone_pressure.iloc[:1]),
        night_periods=repeated(balance.night_periods.iloc[:1]),
        improvements=repeated(balance.improvements.iloc[:1]),
    )
    page = report_page(replace(report, balance=many))
    read(page)
    assert "15 more lines, the whole district last" in page
    assert page.count("<summary>15 more zones</summary>") == 2
    assert "<summary>26 more zones</summary>" in page


def test_a_tank_is_explained_where_there_is_one(report, page):
    assert explain.TANK[1] in "".join(read(page).text)
    sensors = report.layers.sensors
    dry = replace(report.layers, sensors=sensors[sensors["kind"] != "tank_level"])
    assert "whose level is read" not in report_page(replace(report, layers=dry))


def test_money_of_the_year_carries_its_limits(report):
    annual = report.balance.annual
    sized = annual.assign(
        value_currency_low=annual["value_currency"] * 0.9,
        value_currency_high=annual["value_currency"] * 1.1,
    )
    page = report_page(replace(report, balance=replace(report.balance, annual=sized)))
    assert "<b>126\u00a0000</b> <small>113\u00a0000 to 138\u00a0000</small>" in page


def test_a_shifted_zone_is_marked_with_its_year_as_with_its_nights(report):
    events = report.events.events
    zone = report.balance.indicators["cell_id"].iloc[-1]
    assert zone in set(report.balance.zones["cell_id"])
    moved = events.iloc[[0]].assign(
        kind="boundary", state="open", cell_id=zone, other_cell_id="", size_l_s=0.5
    )
    text = "".join(
        read(report_page(replace(report, events=replace(report.events, events=moved)))).text
    )
    nights, year = text.split("Indicators of the year")
    assert "too much: a meter or boundary" in nights
    assert "too much: a meter or boundary" in year


def test_tables_scroll_inside_their_own_box(page):
    assert page.count('<div class="box" tabindex="0"><table>') == page.count("<table>")


@pytest.mark.parametrize("part", ["zones", "events", "annual", "beside", "everything"])
def test_a_district_without_figures_still_gets_its_page(report, part):
    balance, events, location = report.balance, report.events, report.location
    if part in ("zones", "everything"):
        balance = replace(balance, zones=balance.zones.iloc[:0], nights=balance.nights.iloc[:0])
    if part in ("events", "everything"):
        events = replace(events, events=events.events.iloc[:0])
        location = replace(
            location,
            likelihood=location.likelihood.iloc[:0],
            search_sets=location.search_sets.iloc[:0],
        )
    if part in ("annual", "everything"):
        balance = replace(
            balance, annual=balance.annual.iloc[:0], indicators=balance.indicators.iloc[:0]
        )
    if part in ("beside", "everything"):
        beside = (
            "meter_checks", "zone_checks", "without_meter", "night_periods", "night_users",
            "seven_nights", "economics", "loss_gaps", "gap_causes", "zone_pressure",
            "zone_exponents", "improvements",
        )  # fmt: skip
        balance = replace(balance, **{name: getattr(balance, name).iloc[:0] for name in beside})
    page = report_page(
        replace(report, balance=balance, events=events, location=location, findings=())
    )
    read(page)
    assert "Findings in the data" not in page


def located(report, **tables):
    return replace(report, location=replace(report.location, **tables))


def said(report):
    return " ".join("".join(read(report_page(report)).text).split())


def test_events_say_what_how_sure_since_when_and_what_it_cost(report, whole_text):
    text = whole_text
    assert "new leak, 92 %still runsflow alone" in text
    assert "2031-04-052031-04-03to 2031-04-0625 days (23 to 27)" in text
    assert "1.10 0.98 to 1.22 2 300 2 040 to 2 560 1 840 1 630 to 2 050" in text
    assert "Night flow rose in one night and stayed <script>alert(1)</script>." in text
    assert "new leak, 92 %. For it: the same at all hours." in text
    assert "use, no leak, 8 %. For it: it began on a Monday <script>" in text
    assert "All but ruled out: meter at fault, no leak." in text
    assert (
        "1 other event: over, explained, the same water as one above, or too small to act on"
        in text
    )
    grown = report.events.events.assign(
        growth_l_s_d=0.0072, growth_l_s_d_low=0.0065, growth_l_s_d_high=0.0079
    )
    grows = replace(report, events=replace(report.events, events=grown))
    assert "grows 0.0072 L/s per day (0.0065 to 0.0079)" in said(grows)


def test_repairs_that_ask_for_a_visit_come_first(whole_text):
    text = whole_text
    assert text.index("worked in part") < text.index("worked 0.90")
    assert "Hall <script>alert(1)</script>meter M&B" in text
    assert "After the repair of 2031-04-02 the night flow fell." in text


def test_only_meters_not_seen_to_stand_still_are_listed(whole_text):
    text = whole_text
    assert "never stops 2031-03-20 0.0800 0.0780 to 0.0820 276 269 to 283 2 020" in text
    assert "6 900 L a day runs without a stop.Rests on hourly readings." in text
    assert "1 other meter not seen to stand still" in text
    assert "1 meter stands still at times, as a sound house's does. 2 meters are read" in text
    assert "B4 was read" not in text


def test_sensors_that_cannot_be_relied_on_are_told(whole_text):
    text = whole_text
    assert "1 more is sound" in text
    assert "S4chamber float" in text
    assert text.index("Not read since 2031-04-02.") < text.index("It turned wet 40 times")
    assert "No alarm in its record" not in text


@pytest.mark.parametrize("settings", ["all", "none"])
def test_what_is_said_of_shutting_valves_always_has_its_caution(report, settings):
    if settings == "none":
        report = replace(report, shut_off=ShutOff())
    page = report_page(report)
    section = page[page.index('<h2 id="shutoff">') :]
    caution = section.index(SHUTOFF_CAUTION)
    assert "<details" not in section[:caution], "it must not be folded away"
    assert page.count(SHUTOFF_CAUTION) == 1
    if settings == "none":
        assert "No building has a valve of kind automatic_shutoff" in page
        return
    assert caution < section.index("Trip when more than 0.1")
    assert "Without power the valve AV&lt;1&gt; stays as it is." in section
    assert "None advised: dead." in section
    assert "4 settings that no other betters, as a table" in section
    assert "1 more setting would trip over 100 times a year" in section


def test_a_page_without_anything_that_happened_says_so(report):
    quiet = replace(report, events=Events(report.events.events.iloc[:0], Basis()))
    text = said(quiet)
    assert "Since when: events to act on None now." in text
    assert "No repair is on record" in text
    assert "Buildings where water never stops" not in text
    assert "Alarm sensors" not in text


def test_each_leak_says_what_told_its_place_and_how_far(whole_text):
    text = whole_text
    assert "Upper <script>alert(1)</script> (Z1): leak since 2031-04-05" in text
    assert "Walk 730 m of 960 m" in text
    assert "Pressure loggers. S1 fell by 0.4 m <script>alert(1)</script>" in text
    assert "730 815 moved it much (43 %)" in text
    assert "1 piece of evidence that did not count" in text
    assert "Before it began {{ 7 * 7 }} {% raw %} ${1+1} `tick`" in text
    assert "Nothing beyond the pipes themselves tells its place" in text
    assert "from 12 m to 62 m of 251 m, counted from its west end" in text
    assert "most likely 34 m (20 to 51) from its west end" in text


def test_a_leak_on_a_piece_is_not_said_to_be_anywhere(report):
    table = report.location.stretches
    wide = table.assign(along_m_low=0.0, along_m_high=table["length_m"])
    assert "of 251 m, counted from its west end; anywhere" not in said(
        located(report, stretches=wide)
    )


def test_loggers_that_do_not_count_are_told_before_the_stretches(report, page, whole_text):
    notice = page.index("Loggers that do not count.")
    assert page.index('id="search"') < notice < page.index("in order of search: where most flow")
    text = whole_text
    assert "2 pressure loggers; 1 of them does not count." in text
    assert "no. It jumps by 2 m <script>alert(1)</script>" in text
    assert "-1.2 -1.7 to -0.7" in text
    every = located(report, logger_checks=report.location.logger_checks.assign(used=True))
    assert "Loggers that do not count." not in report_page(every)


def test_the_next_leak_is_told_by_zone_with_devices_and_caution(report, whole_text):
    text = whole_text
    assert "would show within 14 nights" in text
    assert "0.06 to 0.18 inflow on 50 %, pressure on 50 %" in text
    assert "seen in 60 % (48 to 72)" in text
    assert "1 Pressure logger on P21 (its part P21/2)" in text
    assert "400 340 to 460 250 200 to 300 38" in text
    assert "local rules for confined spaces, traffic and hygiene" in text
    told = located(report, ahead=Basis(assumptions=("The walk is for 1 L/s <b>.",)))
    assert "What that rests on The walk is for 1 L/s <b>." in said(told)


def test_a_leak_that_nothing_tells_of_brings_the_caution_of_a_step_test(report, whole_text):
    assert STEP_TEST_CAUTION in whole_text
    known = report.location.search_sets.iloc[:1]
    assert STEP_TEST_CAUTION not in said(located(report, search_sets=known))


@pytest.mark.parametrize(
    ("emptied", "gone"),
    [
        (["evidence"], "What told it"),
        (["logger_checks", "calibration"], "Pressure loggers against the model"),
        (["calibration"], "Roughness of"),
        (["detectability", "zone_reach", "next_devices"], "The next leak"),
        (["next_devices"], "Best first"),
    ],
)
def test_a_section_without_rows_is_left_out(report, emptied, gone, whole_text):
    assert gone in whole_text
    tables = {name: getattr(report.location, name).iloc[:0] for name in emptied}
    assert gone not in said(located(report, **tables))


def test_many_leaks_and_loggers_are_folded(report):
    checks = report.location.logger_checks
    many = pd.concat([checks.assign(sensor_id=[f"L{n}", f"M{n}"]) for n in range(20)])
    page = report_page(located(report, logger_checks=many))
    assert "28 more loggers, explained better" in page
    sets, told = report.location.search_sets.iloc[:1], report.location.evidence.iloc[:1]
    ids = [f"E{n}" for n in range(30)]
    page = report_page(
        located(
            report,
            search_sets=pd.concat([sets.assign(sought_id=i) for i in ids]),
            evidence=pd.concat([told.assign(sought_id=i) for i in ids]),
        )
    )
    assert "15 more leaks looked for" in page
    assert page.count('<details class="told" open>') == 3
    assert page.count('<details class="told">') == 27
