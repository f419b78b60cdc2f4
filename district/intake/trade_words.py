"""How the trade spells what layers and columns hold, and names taken apart into such words."""

from __future__ import annotations

import re
import unicodedata
from functools import cache

TABLE_WORDS: dict[str, tuple[str, ...]] = {
    "pipes": (
        "pipe", "main", "watermain", "pipeline", "conduit", "reticulation", "rohr", "leitung",
        "wasserleitung", "leitungen", "conduite", "canalisation", "tuberia", "condotta", "leiding",
    ),
    "valves": (
        "valve", "sluice", "gatevalve", "stopcock", "prv", "schieber", "vanne", "valvula",
        "valvola", "afsluiter", "armatur",
    ),
    "meters": (
        "meter", "flowmeter", "watermeter", "bulkmeter", "zonemeter", "zahler", "wasserzahler",
        "compteur", "contador", "contatore", "debitmetre",
    ),
    "zones": (
        "zone", "dma", "district", "area", "sector", "supplyzone", "versorgungszone",
        "bezirk", "secteur", "zona",
    ),
    "connections": (
        "connection", "service", "customer", "property", "premise", "ferrule", "consumer",
        "supplypoint", "hausanschluss", "anschluss", "branchement", "acometida", "allaccio",
    ),
    "sensors": (
        "sensor", "logger", "pressure", "acoustic", "noise", "transducer", "gauge", "wetfloor",
        "level", "messstelle",
    ),
    "sources": (
        "source", "reservoir", "tank", "well", "borehole", "intake", "spring", "supply",
        "treatment", "behalter", "quelle", "deposito", "serbatoio",
    ),
    "works": ("work", "job", "maintenance", "operation", "activity", "event", "arbeit"),
    "breaks": ("break", "burst", "repair", "failure", "leak", "bruch", "rohrbruch"),
    "surveys": ("survey", "sounding", "listening", "inspection", "begehung", "lecksuche"),
    "step_tests": ("step", "steptest", "steptesting", "stufentest"),
    "correlations": ("correlation", "correlator", "korrelation", "korrelator"),
    "sightings": (
        "sighting", "complaint", "report", "notification", "visible", "observation", "meldung",
    ),
    "readings": (
        "reading", "logger", "flow", "meter", "pressure", "level", "consumption", "telemetry",
        "log", "export", "register", "data",
    ),
}  # fmt: skip
"""Words in file and layer names, singular, without accents."""
OTHER_NETWORKS = (
    "sewer", "foul", "storm", "stormwater", "wastewater", "drainage", "gas", "electric", "power",
    "cable", "telecom", "heating", "abwasser", "assainissement", "kanal", "fibre",
)  # fmt: skip
"""Anywhere in a name: not the drinking water network."""
OTHER_THINGS = (
    "hydrant", "manhole", "chamber", "building", "footprint", "road", "street", "contour",
    "river", "parcel", "cadastre", "tree", "fitting", "node", "junction", "label", "annotation",
    "dimension", "casing", "lateral", "kerb", "fence", "wall", "railway",
)  # fmt: skip
"""As the chief word of a name: something else than our tables hold."""

SHORT: dict[str, str] = {
    "dia": "diameter", "diam": "diameter", "dn": "diameter", "nd": "diameter", "size": "diameter",
    "bore": "diameter", "durchmesser": "diameter", "diametre": "diameter", "diametro": "diameter",
    "mat": "material", "matl": "material", "mtl": "material", "mater": "material",
    "werkstoff": "material", "materiau": "material",
    "yr": "year", "annee": "year", "jahr": "year", "dt": "date", "dat": "date",
    "datum": "date", "fecha": "date",
    "inst": "install", "instal": "install", "installed": "install", "installation": "install",
    "laid": "install", "lay": "install", "laying": "install", "built": "install",
    "constructed": "install", "construction": "install", "commissioned": "install",
    "baujahr": "install year", "einbaujahr": "install year", "verlegejahr": "install year",
    "lange": "length", "art": "kind", "bauart": "kind", "einheit": "unit", "rolle": "role",
    "stellen": "digit", "impulswertigkeit": "pulse value", "impulswert": "pulse value",
    "bezeichnung": "name", "hohe": "elevation", "gebaude": "building", "nutzung": "use class",
    "wohneinheit": "property", "wohneinheiten": "property", "stellung": "state",
    "bedienbar": "operable", "kritisch": "critical", "druckhohe": "head", "beginn": "start",
    "ende": "end", "ort": "place", "bemerkung": "note", "messgenauigkeit": "accuracy",
    "zahler": "meter", "leitung": "pipe", "leitungs": "pipe", "armatur": "valve",
    "armaturen": "valve", "anschluss": "connection", "messstelle": "sensor",
    "durchfluss": "flow", "stand": "reading", "zahlerstand": "reading", "messwert": "value",
    "cfactor": "c factor", "hgl": "hydraulic grade",
    "gal": "gallon", "gallons": "gallon",
    "no": "id", "num": "id", "nr": "id", "nbr": "id", "number": "id", "ident": "id",
    "identifier": "id", "code": "id", "ref": "id", "reference": "id", "tag": "id", "uid": "id",
    "key": "id", "pos": "position", "posn": "position",
    "norm": "normal", "ser": "serial", "sn": "serial id",
    "elev": "elevation", "elevn": "elevation", "alt": "elevation", "altitude": "elevation",
    "z": "elevation", "lvl": "level", "len": "length", "lgth": "length", "leng": "length",
    "typ": "kind", "type": "kind", "kind": "kind", "stat": "status", "sts": "status",
    "cls": "class", "cat": "class", "category": "class", "qty": "count", "cnt": "count",
    "count": "count", "mtr": "meter", "wm": "meter", "conn": "connection",
    "svc": "service", "serv": "service", "srv": "service", "vlv": "valve", "bldg": "building",
    "bld": "building", "press": "pressure", "pres": "pressure", "cust": "customer",
    "acct": "account", "fac": "facility", "obj": "object", "prop": "property",
    "propertie": "property", "dwelling": "property", "household": "property",
    "downstrm": "downstream", "ds": "downstream", "rough": "roughness", "res": "resolution",
    "dev": "device", "lgr": "logger", "litre": "l", "liter": "l", "ltr": "l",
    "timestamp": "time", "datetime": "time", "zeit": "time", "heure": "time", "hora": "time",
    "uhrzeit": "time", "zeitstempel": "time", "zeitpunkt": "time", "horodatage": "time",
    "val": "value", "wert": "value", "valeur": "value", "valor": "value", "totaliser": "register",
    "totalizer": "register", "index": "register", "rdg": "reading", "read": "reading",
}  # fmt: skip
"""Short and foreign spellings, and synonyms -> the one word used for comparing."""
_WHOLE = (
    "asset", "facility", "object", "global", "unique", "pipe", "main", "watermain", "valve",
    "meter", "zone", "dma", "district", "area", "connection", "service", "customer", "sensor",
    "logger", "source", "reservoir", "tank", "well", "device", "point", "site", "id", "diameter",
    "material", "install", "year", "date", "time", "length", "pressure", "status", "state",
    "position", "setting", "role", "downstream", "parent", "name", "property", "building",
    "elevation", "level", "ground", "reading", "value", "unit", "pulse", "per", "digit", "l",
    "nominal", "internal", "inside", "register", "roughness", "kind", "class", "use", "account",
    "serial", "normal", "current",
)  # fmt: skip
_PARTS = re.compile(r"[A-Z]+(?![a-z])|[A-Z]?[a-z]+|\d+")
_NOT_PLURAL = ("gas", "sts", "cls", "res", "pres", "press")
_UNITS = {
    "mm": "mm", "cm": "cm", "m": "m", "metre": "m", "metres": "m", "km": "km", "in": "in",
    "inch": "in", "inches": "in", "ft": "ft", "feet": "ft", "foot": "ft",
}  # fmt: skip


@cache
def words(name: str) -> tuple[str, ...]:
    """A name's words: lower case, singular, no accents, short spellings written out.

    >>> words("YR_LAID"), words("AssetNo"), words("PIPEDIAM")
    (('year', 'install'), ('asset', 'id'), ('pipe', 'diameter'))
    """
    return tuple(w for part in parts(name) for w in _written_out(part))


@cache
def parts(name: str) -> tuple[str, ...]:
    """A name's words as written: lower case, singular, no accents, nothing written out.

    >>> parts("Zone_Meters 2025"), parts("bulkMeters")
    (('zone', 'meter', '2025'), ('bulk', 'meter'))
    """
    plain = unicodedata.normalize("NFKD", name)
    plain = "".join(c for c in plain if not unicodedata.combining(c))
    return tuple(_singular(part.lower()) for part in _PARTS.findall(plain))


def unit_in(name: str) -> str:
    """The length unit a column name ends with, '' if none.

    >>> unit_in("DIA_IN"), unit_in("Length (ft)"), unit_in("diameter")
    ('in', 'ft', '')
    """
    last = [part.lower() for part in _PARTS.findall(name)][-1:]
    return _UNITS.get(last[0], "") if last and len(_PARTS.findall(name)) > 1 else ""


def bare(name: str) -> tuple[str, ...]:
    """The words of a column name without the unit it ends with."""
    known = words(name)
    return known[:-1] if unit_in(name) else known


def _singular(part: str) -> str:
    if part in _NOT_PLURAL or len(part) < 4 or not part.endswith("s") or part.endswith("us"):
        return part
    # 'normalpos' is a position cut short.
    if part.endswith(("ss", "pos")):
        return part
    if part.endswith("ies"):
        return part[:-3] + "y"
    return part[:-1]


def _written_out(part: str) -> tuple[str, ...]:
    if part in SHORT:
        return tuple(SHORT[part].split())
    if part in _WHOLE or part.isdigit():
        return (part,)
    split = _split(part)
    return tuple(w for s in split for w in SHORT.get(s, s).split()) if split else (part,)


@cache
def _split(part: str) -> tuple[str, ...]:
    """A run of known words without anything between ('yearlaid'); nothing if it is not one."""
    if not part:
        return ()
    for end in range(len(part), 1, -1):
        head, tail = part[:end], part[end:]
        if head in SHORT or head in _WHOLE:
            if not tail:
                return (head,)
            rest = _split(tail)
            if rest:
                return (head, *rest)
    return ()
