from __future__ import annotations

from dataclasses import replace

from district.render.named_places import Place, named_places


def test_zones_meters_and_sensors_have_names_people_know(report):
    places = named_places(report)
    zone = 'Mühlgasse "alt" & {{ 7 * 7 }} {% raw %} ${1+1} `tick` (Z2)'
    assert places["zone", "Z2"] == Place(zone)
    hall = places["building", "M&B"]
    assert hall == Place("Hall <script>alert(1)</script>", "meter M&B", zone)
    assert hall.whole() == "Hall <script>alert(1)</script> (meter M&B)"
    assert hall.beside() == f"meter M&B, {zone}"
    assert places["building", "B2"] == Place("B2", "meter", zone)
    assert places["sensor", "S3"] == Place("Hall", "wet-floor sensor S3", zone)
    assert places["sensor", "S4"].device == "chamber float"


def test_a_place_known_by_its_event_alone_is_named_by_its_id(report):
    unknown = report.events.events.assign(place_kind="sensor", place_id="Q", kind="leak_cable")
    bare = replace(report, events=replace(report.events, events=unknown))
    assert named_places(bare)["sensor", "Q"].whole() == "Q (leak cable)"
    gone = report.events.events.assign(place_kind="zone", place_id="Z9")
    bare = replace(report, events=replace(report.events, events=gone))
    assert named_places(bare)["zone", "Z9"] == Place("Z9")
