from district.simulate.scenario import GRIDS, LINKS, ZONE_IDS, ZONES, Scenario


def test_default_is_a_whole_year():
    assert (Scenario().first.isoformat(), Scenario().days) == ("2025-01-01", 365)


def test_zones_links_and_grids_name_each_other():
    parents = {z.parent_id for z in ZONES} - {""}
    assert parents == {"C1"}
    assert {g.zone_id for g in GRIDS} < set(ZONE_IDS)
    assert {z for link in LINKS for z in (link.from_zone, link.to_zone)} == set(ZONE_IDS)


def test_every_zone_has_one_inlet_and_three_boundaries_are_shut():
    inlets = [link.to_zone for link in LINKS if link.device == "inlet"]
    assert sorted(inlets) == sorted(set(ZONE_IDS) - {"T"})
    assert sum(link.device == "shut" for link in LINKS) >= 3
