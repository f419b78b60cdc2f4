"""How the trade writes materials, states and kinds: codes and words -> our choices.

All of it is common practice, no source. A code with two meanings in the trade (PB: lead or
polybutylene; BV: boundary, ball or butterfly valve) stands in none: its owner must say.
"""

from __future__ import annotations

import re
import unicodedata
from functools import cache

from district.intake.entry_words import ENTRY_WORDS

_MATERIAL = {
    "cast_iron": (
        "ci", "cip", "iron", "cast", "grey iron", "gray iron", "grey cast iron", "gray cast iron",
        "gci", "cicl", "si", "spun iron", "spun cast iron", "spun grey iron", "sci", "vci",
        "vertically cast iron", "pit cast iron", "pci", "gg", "grauguss", "guss", "gusseisen",
        "fonte", "fonte grise", "ftg", "fundicion", "fundicion gris", "hierro fundido",
        "ghisa", "ghisa grigia", "gietijzer", "grijs gietijzer",
    ),
    "ductile_iron": (
        "di", "dip", "dicl", "ductile", "ductile cast iron", "dci", "sgi", "spheroidal iron",
        "spheroidal graphite iron", "nodular iron", "ggg", "gjs", "duktilguss",
        "duktiler guss", "duktiles gusseisen", "spharoguss", "gusseisen duktil", "fonte ductile",
        "ftd", "fundicion ductil", "hierro ductil", "hierro fundido ductil", "ghisa sferoidale",
        "nodulair gietijzer",
    ),
    "steel": (
        "st", "stl", "mild steel", "ms", "mscl", "carbon steel", "cs", "gs", "gi",
        "galvanised steel", "galvanized steel", "galvanised iron", "galvanized iron",
        "galvanised", "galvanized", "galv", "stainless", "stainless steel", "ss", "stahl",
        "stahl verzinkt", "edelstahl", "acier", "acier galvanise", "inox", "acier inox", "acero",
        "acero galvanizado", "acero inoxidable", "acciaio", "acciaio zincato", "staal",
    ),
    "asbestos_cement": (
        "ac", "acp", "asbestos", "asbestos cement", "fibre cement", "fiber cement", "fc", "az",
        "asbestzement", "faserzement", "fz", "eternit", "amiante", "amiante ciment",
        "fibrociment", "fibre ciment", "fibrocemento", "cemento amianto", "amianto",
        "asbestcement",
    ),
    "pvc": (
        "pvcu", "upvc", "pvco", "mopvc", "mpvc", "pvca", "pvcm", "cpvc", "pvcc", "opvc", "bopvc",
        "pvchi", "hpvc", "pvcuo", "polyvinyl chloride", "plasticised pvc", "c900", "c905",
        "pvc c900",
    ),
    "polyethylene": (
        "pe", "hdpe", "pehd", "mdpe", "pemd", "ldpe", "peld", "lldpe", "hppe", "pe32", "pe40",
        "pe50", "pe63", "pe80", "pe100", "pe100rc", "pe80rc", "pe4710", "pe3408", "pe3608",
        "pe2406", "pex", "pead", "pebd", "pemad", "poly", "polythene", "polyethylen",
        "polyethylene hd", "polietileno", "polietilene",
    ),
    "concrete": (
        "conc", "psc", "prestressed concrete", "reinforced concrete", "rc", "rcp", "rcc", "pccp",
        "beton", "stahlbeton", "spannbeton", "beton arme", "hormigon",
        "hormigon armado", "calcestruzzo", "cemento armato",
    ),
    "grp": (
        "frp", "gre", "rpm", "glass reinforced plastic", "fibreglass", "fiberglass", "gfk", "prv",
        "prfv", "vetroresina", "poliester",
    ),
    "copper": ("cu", "cpr", "kupfer", "cuivre", "cobre", "rame", "koper"),
    "lead": ("blei", "plomb", "plomo", "piombo", "lood"),
}  # fmt: skip
_STATE = {
    "open": (
        "o", "op", "opn", "opened", "no", "normally open", "normal open", "offen", "auf",
        "ouvert", "ouverte", "abierta", "abierto", "aperta", "aperto",
    ),
    "shut": (
        "c", "cl", "cls", "clsd", "close", "closed", "nc", "normally closed", "normal closed",
        "normally shut", "geschlossen", "zu", "ferme", "fermee", "cerrada", "cerrado", "chiusa",
        "chiuso", "gesloten", "dicht",
    ),
}  # fmt: skip
_STATUS = {
    "in_use": (
        "active", "act", "live", "in service", "inservice", "inuse", "ins", "operational",
        "operating", "operative", "existing", "exist", "exists", "current", "commissioned",
        "installed", "in betrieb", "aktiv", "bestand", "en service", "actif", "existant",
        "en servicio", "activo", "activa", "existente", "in esercizio", "attivo", "attiva",
        "in gebruik",
    ),
    "abandoned": (
        "aban", "abd", "abnd", "abdn", "disused", "not in use", "out of use", "out of service",
        "not in service", "oos", "retired", "removed", "decommissioned", "decom", "dead",
        "redundant", "inactive", "stillgelegt", "ausser betrieb", "entfernt", "hors service",
        "abandonne", "abandonnee", "depose", "fuera de servicio", "abandonado", "abandonada",
        "fuori servizio", "dismesso", "dismessa", "buiten gebruik", "verlaten",
    ),
    "planned": (
        "plan", "proposed", "prop", "design", "designed", "projected", "future",
        "under construction", "geplant", "planung", "projet", "projete", "en projet",
        "proyectado", "proyectada", "progetto", "in progetto", "in aanleg", "gepland",
    ),
}  # fmt: skip
_VALVE = {
    "isolation": (
        "isolating", "isolator", "isolation valve", "isolating valve", "gate", "gate valve",
        "gv", "sluice", "sluice valve", "sv", "butterfly", "butterfly valve", "bfv", "stop valve",
        "stopvalve", "stopcock", "line valve", "schieber", "absperrschieber", "vanne",
        "vanne de sectionnement", "valvula de corte", "compuerta", "saracinesca", "afsluiter",
    ),
    "boundary": (
        "boundary valve", "zone valve", "zone boundary", "district valve", "division valve",
        "dma valve", "dma boundary", "dma boundary valve", "zonenschieber", "grenzschieber",
    ),
    "check": (
        "check valve", "non return", "non return valve", "nrv", "reflux", "reflux valve",
        "backflow", "ruckschlagklappe", "ruckflussverhinderer", "clapet", "clapet anti retour",
        "antirretorno", "valvula de retencion", "valvola di non ritorno", "terugslagklep",
    ),
    "pressure_reducing": (
        "prv", "pressure reducer", "pressure reducing valve", "pressure reduction valve",
        "reducing valve", "druckminderer", "druckreduzierventil", "reducteur de pression",
        "reductora", "valvula reductora", "valvola riduttrice", "reduceerventiel",
    ),
    "automatic_shutoff": (
        "automatic shut off", "automatic shutoff valve", "automatic shut off valve",
        "auto shutoff", "auto shut off", "asv", "shutoff automatic",
    ),
}  # fmt: skip
_FAILS = {
    "open": ("fail open", "fails open", "fo", "opens", "normally open"),
    "shut": ("fail shut", "fail closed", "fails closed", "fc", "close", "closed", "normally closed",
             "shuts", "closes"),
    "stays": ("fail in place", "fail last", "stays put", "fl", "fip", "as is", "unchanged"),
}  # fmt: skip
_ROLE = {
    "inlet": ("inflow", "in", "inlet meter", "zone inlet", "dma inlet", "district inlet",
              "zoneneingang", "zonenzulauf", "zulauf"),
    "transfer": ("transfer meter", "interzone", "inter zone", "zone to zone", "dma to dma",
                 "zone transfer", "dma transfer", "ubergabe", "zonenubergabe"),
    "outlet": ("outflow", "out", "outlet meter", "zone outlet", "dma outlet", "zonenausgang",
               "zonenablauf", "ablauf"),
    "building": ("bldg", "building meter", "block", "gebaude", "batiment", "edificio"),
    "customer": (
        "cust", "customer meter", "consumer", "household", "domestic", "revenue", "billing",
        "billed", "kunde", "client", "cliente", "abonne",
    ),
}  # fmt: skip
_METER = {
    "register": (
        "mechanical", "totaliser", "totalizer", "counter", "dial", "odometer", "index",
        "zahlwerk", "zahler",
    ),
    "pulse": ("pulsed", "pulses", "pulser", "pulse output", "impuls", "impulse", "impulsion"),
    "electromagnetic": (
        "electromagnetic meter", "em", "emf", "mag", "magmeter", "mag meter", "magflow",
        "magnetic", "magnetic inductive", "magnetisch induktiv", "mid",
    ),
    "transit_time": (
        "transit time ultrasonic", "ultrasonic transit time", "ultrasonic", "clamp on",
        "ultraschall",
    ),
}  # fmt: skip
_SENSOR = {
    "pressure": ("press", "pressure logger", "pressure sensor", "pressure transducer", "pt",
                 "druck", "pression", "presion", "pressione", "druk"),
    "acoustic": ("noise", "noise logger", "acoustic logger", "correlating", "hydrophone"),
    "wet_floor": ("wet", "flood", "water on floor", "water detector", "wet floor sensor",
                  "leak detector", "wassermelder", "leckagemelder"),
    "leak_cable": ("cable", "leak rope", "sensing cable", "leak sensing cable", "leckkabel"),
    "chamber_float": ("float", "float switch", "chamber float switch", "schwimmerschalter"),
    "tank_level": ("level", "lvl", "tank", "reservoir", "service reservoir", "water level",
                   "reservoir level", "level sensor", "level logger", "tank level sensor",
                   "fullstand", "behalterstand", "niveau", "nivel", "livello", "waterpeil"),
}  # fmt: skip
_WORK = {
    "repair": ("repaired", "leak repair", "burst repair", "main repair", "reparatur", "reparation",
               "reparacion", "riparazione"),
    "flushing": ("flush", "flushed", "mains flushing", "spulung", "rincage", "lavado", "spurgo"),
    "fire_use": ("fire", "fire fighting", "firefighting", "fire drill", "hydrant use",
                 "loschwasser", "feuerwehr"),
    "meter_change": ("meter changed", "meter exchange", "meter replacement", "meter replaced",
                     "zahlerwechsel", "zahlertausch"),
    "valve_operation": ("valve", "valving", "valve operated", "valve closed", "valve opened",
                        "schieberbetatigung"),
    "planned_use": ("planned", "event"),
}  # fmt: skip
_BREAK: dict[str, tuple[str, ...]] = {
    "main": ("mains", "main break", "mains burst", "main burst", "pipe", "hauptleitung"),
    "service": ("service pipe", "service line", "connection", "hausanschluss", "anschlussleitung",
                "branchement"),
}  # fmt: skip
_USE: dict[str, tuple[str, ...]] = {
    "household": ("residential", "domestic", "dwelling", "house", "home", "single family",
                  "multi family", "haushalt", "haushalte", "wohnen", "residentiel", "residencial"),
    "commercial": ("business", "office", "retail", "shop", "gewerbe", "comercial", "commerciale"),
}  # fmt: skip
_WORDS = {
    ("pipes", "material"): _MATERIAL,
    ("pipes", "status"): _STATUS,
    ("valves", "state"): _STATE,
    ("valves", "kind"): _VALVE,
    ("valves", "fail_position"): _FAILS,
    ("meters", "role"): _ROLE,
    ("meters", "kind"): _METER,
    ("sensors", "kind"): _SENSOR,
    ("works", "kind"): _WORK,
    ("breaks", "kind"): _BREAK,
    ("connections", "use_class"): _USE,
    **ENTRY_WORDS,
}
NOT_KNOWN = {
    "unknown", "unk", "unkn", "ukn", "notknown", "nk", "na", "none", "null", "nil", "nan", "tbc",
    "tbd", "other", "others", "various", "mixed", "misc", "unspecified", "undefined",
    "notrecorded", "nodata", "unbekannt", "unbek", "sonstige", "inconnu", "inconnue", "autre",
    "desconocido", "desconocida", "otro", "sconosciuto", "ignoto", "altro", "onbekend", "overig",
}  # fmt: skip
"""Texts, made plain, that say nothing is known."""
YES = {"yes", "y", "true", "t", "on", "ja", "j", "oui", "si", "s", "1"}
NO = {"no", "n", "false", "f", "off", "nein", "non", "nee", "0"}
"""Answers in columns of yes and no, made plain."""
_REMARKS = re.compile(
    r"\(.*?\)|\b(?:sdr|pn|sch|schedule|dn|s|k)\s*[-.]?\s*\d+(?:[.,]\d+)?\b|\bclass\s*\w+"
    r"|\b(?:cement|mortar|epoxy|bitumen|un)*[\s-]*lined\b|\b(?:pipes?|tubes?|mains?)\b"
)
"""Beside a material: pressure classes, linings, what is in brackets."""


@cache
def plain(text: str) -> str:
    """A text as it is compared: small letters and digits alone, without accents.

    >>> plain(" PVC-U "), plain("Fundición dúctil"), plain("Außer Betrieb")
    ('pvcu', 'fundicionductil', 'ausserbetrieb')
    """
    bare = unicodedata.normalize("NFKD", text.casefold())
    return re.sub(r"[^a-z0-9]", "", "".join(c for c in bare if not unicodedata.combining(c)))


def says_nothing(text: str) -> bool:
    """Whether a text stands for 'not known'.

    >>> says_nothing("n/k"), says_nothing(" ? "), says_nothing("steel")
    (True, True, False)
    """
    said = plain(text)
    return said in NOT_KNOWN or (not said and bool(text.strip()))


def understood(table: str, column: str, text: str, *, beside: frozenset[str] = frozenset()) -> str:
    """The choice that a text of the trade means, '' if none.

    `beside` are the other texts of the column, made plain: 'NO' beside 'yes' is an answer, not
    'normally open'. Pressure classes and remarks in brackets after a material are passed over.

    >>> understood("pipes", "material", "uPVC"), understood("pipes", "material", "PE100 SDR 11")
    ('pvc', 'polyethylene')
    >>> understood("valves", "state", "NC"), understood("pipes", "material", "wood")
    ('shut', '')
    """
    said = plain(text)
    if (table, column) == ("valves", "state") and said == "no" and beside & YES:
        return ""
    known = _meanings(table, column)
    return known.get(said, "") or (_material(text, known) if column == "material" else "")


def _material(text: str, known: dict[str, str]) -> str:
    bare = _REMARKS.sub(" ", text.casefold())
    if plain(bare) in known:
        return known[plain(bare)]
    # 'HDPE PE100' says the same twice; 'St 37' and 'GGG40' carry a grade.
    each = {
        known.get(plain(word), "") or known.get(plain(word).rstrip("0123456789"), "")
        for word in re.split(r"[\s/,;_-]+", bare)
        if plain(word).strip("0123456789")
    }
    return each.pop() if len(each) == 1 else ""


@cache
def _meanings(table: str, column: str) -> dict[str, str]:
    words = _WORDS.get((table, column), {})
    return {plain(word): choice for choice, spelt in words.items() for word in (choice, *spelt)}
