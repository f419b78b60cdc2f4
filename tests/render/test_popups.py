from __future__ import annotations

from district.render import popups
from district.render.stretches import drawn_stretches

SCRIPT = "<script>alert(1)</script>"


def test_a_card_escapes_once_and_leaves_out_what_is_empty():
    card = popups.card(SCRIPT, [("Zone & area", SCRIPT), ("None", None), ("Dash", "-")])
    assert "<script" not in card
    assert card.count("&lt;script&gt;alert(1)&lt;/script&gt;") == 2
    assert "Zone &amp; area" in card
    assert "&amp;amp;" not in card
    assert "<dt>None" not in card
    assert "<dt>Dash" not in card


def test_pipe_card_gives_probability_flow_and_reason(report):
    stretch = popups.by_id(drawn_stretches(report), "stretch_id")["P12"]
    card = popups.pipe_card(stretch, "Upper").replace("\u00a0", " ")
    assert "<dd>27 % (16 to 40)</dd>" in card
    assert "<dd>1.20 L/s (0.97 to 1.43)</dd>" in card
    assert "<dt>Length</dt><dd>231 m</dd>" in card
    assert "<dt>Inside diameter</dt><dd>110 mm</dd>" in card
    assert "<dt>Laid</dt><dd>1994</dd>" in card
    assert "<dt>Material</dt><dd>PVC</dd>" in card
    assert "<dt>The pipe</dt><dd>many breaks" in card
    assert "<dt>Walk first</dt><dd>yes</dd>" in card


def test_pipe_without_search_says_so(report):
    card = popups.pipe_card(drawn_stretches(report).iloc[-1], "Lower")
    assert "not now: no clear excess, or a meter or boundary accounts for it" in card
    assert "Probability" not in card
    assert "<dt>Laid</dt><dd>not known</dd>" in card
    quiet = drawn_stretches(report).assign(searched=False).iloc[0]
    card = popups.pipe_card(quiet, "Upper").replace("\u00a0", " ")
    assert "<dt>Probability if it leaked</dt><dd>58 % (35 to 87)</dd>" in card
    assert "Likely flow" not in card


def test_zone_card_has_figures_and_chart(report):
    card = popups.zone_card(report.balance.zones.iloc[0], "<svg/>", 'said "so"')
    assert "1.20\u00a0L/s (0.97 to 1.43)" in card
    assert 'src="data:image/svg+xml;base64,' in card
    assert 'alt="said &quot;so&quot;"' in card


def test_an_index_outside_its_limits_is_not_shown(report):
    zones = report.balance.zones
    shown, hidden = (popups.zone_card(zones.iloc[n], "", "") for n in (0, 1))
    assert "not valid" not in shown
    assert "<dt>Leakage index</dt><dd>not valid; fewer than 3000 connections</dd>" in hidden


def test_valve_card_defers_to_licensed_people(report):
    card = popups.valve_card(report.layers.valves.iloc[2])
    assert "V&lt;3&gt;" in card
    assert "<dt>Can be turned</dt><dd>no</dd>" in card
    assert "licensed crew; check fire supply and critical users" in card


def test_other_cards(report):
    names = {"Z1": "Upper", "Z2": "Lower"}
    meter = popups.meter_card(report.layers.meters.iloc[1], names)
    assert "<dt>Flows from</dt><dd>Upper</dd><dt>Flows to</dt><dd>Lower</dd>" in meter
    assert "wet floor" in popups.sensor_card(report.layers.sensors.iloc[2], names)
    critical = popups.connection_card(report.layers.connections.iloc[2])
    assert "critical: agree before cutting off" in critical
    assert "Source Spring &amp; tank &lt;script" in popups.source_card(
        report.layers.sources.iloc[0]
    )


def test_a_tank_says_what_it_does_to_the_balance():
    tank = {"sensor_id": "TL<1>", "kind": "tank_level", "cell_id": "Z1", "surface_m2": 84.0}
    card = popups.sensor_card(tank, {"Z1": "Upper (Z1)"}).replace("\u00a0", " ")
    assert "Tank, level read by TL&lt;1&gt;" in card
    assert "<dt>Water surface</dt><dd>84.0 m²</dd>" in card
    assert "taken off the zone&#x27;s inflow" in card
    logger = popups.sensor_card({**tank, "kind": "pressure"}, {})
    assert "Sensor TL&lt;1&gt;" in logger
    assert "taken off" not in logger


def test_a_zone_says_its_pressure_and_what_its_excess_is_like(report):
    zone = report.balance.zones.iloc[0].copy()
    zone["service_bursts_count"] = 2.7
    card = popups.zone_card(zone, "", "").replace("\u00a0", " ")
    assert "<dt>Excess like</dt><dd>3 burst service pipes</dd>" in card
    assert "<dt>Pressure</dt><dd>41 m</dd>" in card
    assert "Excess like" not in popups.zone_card(zone, "", "", apparent=True)
    zone["service_bursts_count"] = 0.4
    assert "Excess like" not in popups.zone_card(zone, "", "")


def test_a_meter_says_what_those_beside_it_do(report):
    meter = report.layers.meters.iloc[1]
    card = popups.meter_card(meter, {}, checked="reads <too little>")
    assert "<dt>Against those beside it</dt><dd>reads &lt;too little&gt;</dd>" in card
    assert "Against" not in popups.meter_card(meter, {})


def test_cards_tell_what_to_shut_and_what_hangs_on_a_valve(report):
    stretch = drawn_stretches(report).iloc[0]
    card = popups.pipe_card(stretch, "Upper", shut=["shut V1: 3 properties dry"])
    assert "<dt>If it breaks</dt><dd>shut V1: 3 properties dry</dd>" in card
    assert "licensed crew; check fire supply" in card
    assert "licensed crew" not in popups.pipe_card(stretch, "Upper")
    valve = popups.valve_card(report.layers.valves.iloc[0], fails="nobody more is dry")
    assert "<dt>If it does not close</dt><dd>nobody more is dry</dd>" in valve
