from __future__ import annotations

import pytest

from district.intake.choice_words import plain, says_nothing, understood
from district.schema.inputs import LAYERS, RECORDS


@pytest.mark.parametrize(
    ("material", "texts"),
    [
        # All common practice, no source.
        ("cast_iron", "CI,C.I.,SI,Grey Iron,Grauguss,fonte grise,Fundición,ghisa,Cast Iron pipe"),
        ("ductile_iron", "DI,D.I.P.,GGG,GGG40,DI K9,Fonte ductile,duktiles Gusseisen"),
        ("steel", "ST,STL,GS,galvanised,St 37,Stahl,acier,acero,Steel Sch 40"),
        ("asbestos_cement", "AC,Asbestos-Cement,AZ,fibrocemento,amiante-ciment"),
        ("pvc", "PVC,uPVC,PVC-U,PVCu,MOPVC,PVC-O,PVC PN16,PVC Class C"),
        ("polyethylene", "PE,HDPE,MDPE,PE80,PE 100,PEHD,PE100 SDR 11,HDPE PE100,polietileno"),
        ("concrete", "PSC,Concrete,béton,Hormigón,Stahlbeton"),
        ("grp", "GRP,GFK,Vetroresina"),
        ("copper", "CU,Kupfer"),
        ("lead", "Lead,Blei,plomb"),
    ],
)
def test_materials_as_the_trade_writes_them(material: str, texts: str) -> None:
    read = {text: understood("pipes", "material", text) for text in texts.split(",")}
    assert set(read.values()) == {material}, read


@pytest.mark.parametrize("text", ["PB", "wood", "12", "CI/DI", "X", ""])
def test_what_could_be_anything_is_left_to_its_owner(text: str) -> None:
    assert understood("pipes", "material", text) == ""


@pytest.mark.parametrize(
    ("column", "text", "meant"),
    [
        (("sensors", "kind"), "Level", "tank_level"),
        (("sensors", "kind"), "Reservoir level", "tank_level"),
        (("sensors", "kind"), "Tank", "tank_level"),
        (("sensors", "kind"), "Füllstand", "tank_level"),
        (("sensors", "kind"), "Pressure logger", "pressure"),
        (("valves", "state"), "SHUT", "shut"),
        (("valves", "state"), "Closed", "shut"),
        (("valves", "state"), "C", "shut"),
        (("valves", "state"), "N.C.", "shut"),
        (("valves", "state"), "NO", "open"),
        (("valves", "state"), "normally open", "open"),
        (("valves", "state"), "fermé", "shut"),
        (("valves", "state"), "1", ""),
        (("pipes", "status"), "Active", "in_use"),
        (("pipes", "status"), "außer Betrieb", "abandoned"),
        (("pipes", "status"), "Proposed", "planned"),
        (("valves", "kind"), "Sluice Valve", "isolation"),
        (("valves", "kind"), "NRV", "check"),
        (("valves", "kind"), "PRV", "pressure_reducing"),
        (("valves", "kind"), "BV", ""),
        (("meters", "kind"), "mag", "electromagnetic"),
        (("meters", "role"), "Inflow", "inlet"),
        (("sensors", "kind"), "noise logger", "acoustic"),
        (("works", "kind"), "mains flushing", "flushing"),
        (("breaks", "kind"), "Main burst", "main"),
        (("surveys", "method"), "Sounding", "listening"),
        (("surveys", "method"), "Ground mic", "ground_microphone"),
        (("surveys", "method"), "Begehung", "walk"),
        (("sightings", "what"), "Water in street", "running_water"),
        (("sightings", "what"), "damp patch", "wet_ground"),
        (("breaks", "kind"), "Anschlussleitung", "service"),
        (("pipes", "material"), "C900", "pvc"),
        (("meters", "kind"), "MID", "electromagnetic"),
        (("meters", "role"), "Zoneneingang", "inlet"),
        (("meters", "role"), "Zone Transfer", "transfer"),
        (("sensors", "kind"), "Wassermelder", "wet_floor"),
        (("sensors", "kind"), "Leak-sensing cable", "leak_cable"),
        (("sensors", "kind"), "Float switch", "chamber_float"),
        (("valves", "fail_position"), "Fail closed", "shut"),
        (("valves", "fail_position"), "fails open", "open"),
        (("valves", "fail_position"), "fail in place", "stays"),
        (("valves", "fail_position"), "NO", ""),
        (("works", "kind"), "Zählerwechsel", "meter_change"),
        (("connections", "use_class"), "Residential", "household"),
    ],
)
def test_states_and_kinds(column: tuple[str, str], text: str, meant: str) -> None:
    assert understood(*column, text) == meant


def test_no_beside_yes_is_an_answer() -> None:
    assert understood("valves", "state", "No", beside=frozenset({"yes", "no"})) == ""


def test_every_choice_understands_itself() -> None:
    choices = {
        (t.name, c.name): c.choices for t in (*LAYERS, *RECORDS) for c in t.columns if c.choices
    }
    for place, names in choices.items():
        for name in names:
            assert understood(*place, name.replace("_", " ").title()) in (name, ""), place
    assert understood("pipes", "material", "Asbestos Cement") == "asbestos_cement"


@pytest.mark.parametrize("text", ["n/k", "N/A", "?", "--", "unknown", "Other", "unbekannt"])
def test_texts_that_say_nothing(text: str) -> None:
    assert says_nothing(text)
    assert not says_nothing("steel")
    assert not says_nothing(" ")


def test_texts_are_compared_without_accents_signs_and_capitals() -> None:
    assert plain("Gußeisen (DÜKTIL)") == "gusseisenduktil"
