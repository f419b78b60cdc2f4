from __future__ import annotations

from shapely.geometry import Point, Polygon, box

from district.render.placing import label_spot, side_by_side


def test_without_symbols_it_stands_in_the_middle():
    assert label_spot(box(0, 0, 100, 50), []) == (50.0, 25.0)


def test_it_keeps_away_from_symbols_and_inside():
    area = box(0, 0, 100, 100)
    x, y = label_spot(area, [(50.0, 50.0), (50.0, 30.0)])
    assert area.contains(Point(x, y))
    assert y > 60


def test_a_bent_area_keeps_its_label_inside():
    bent = Polygon([(0, 0), (100, 0), (100, 10), (10, 10), (10, 100), (0, 100)])
    assert bent.covers(Point(label_spot(bent, [(5.0, 5.0)])))


def test_the_same_place_every_time():
    symbols = [(20.0, 20.0), (70.0, 60.0)]
    assert label_spot(box(0, 0, 90, 90), symbols) == label_spot(box(0, 0, 90, 90), symbols)


def test_symbols_at_one_place_stand_in_a_row():
    places = [(13.5, 51.0), (13.6, 51.0), (13.5, 51.0), (13.5, 51.0)]
    found = [{"geometry": {"coordinates": p}, "properties": {}} for p in places]
    side_by_side(found)
    assert [f["properties"]["beside"] for f in found] == [0, 0, 1, 2]
