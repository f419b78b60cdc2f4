"""How crews and the public put what they did and saw: words -> our choices.

Common practice, no source.
"""

from __future__ import annotations

_ENTRY: dict[str, tuple[str, ...]] = {
    "repair": ("repaired", "mended", "fixed", "reparatur"),
    "nothing_found": ("nothing", "none", "no leak", "no leak found", "clear", "nil"),
    "leak_found": ("leak", "found", "yes"),
    "step": ("step test",),
    "correlation": ("correlated", "correlator"),
    "sighting": ("report", "reported", "seen"),
    "valve": ("valve turned", "valve checked", "exercised"),
}
_LEAKED: dict[str, tuple[str, ...]] = {
    "main": ("mains", "pipe", "pipe wall", "barrel", "hole", "crack", "corrosion"),
    "joint": ("joints", "coupling", "collar", "socket"),
    "fitting": ("fittings", "valve", "hydrant", "air valve", "washout", "gland"),
    "service": (
        "service pipe", "service line", "ferrule", "connection", "communication pipe",
        "supply pipe", "stopcock", "hausanschluss",
    ),
    "indoors": ("inside", "internal", "building", "plumbing", "cistern"),
}  # fmt: skip
_TURNED: dict[str, tuple[str, ...]] = {
    "closes": ("ok", "good", "works", "closed", "shuts", "holds", "operable"),
    "does_not_close": (
        "stuck", "seized", "does not shut", "passing", "lets by", "broken", "inoperable", "jammed",
    ),
    "found_shut": ("was shut", "was closed"),
    "found_open": ("was open",),
    "not_found": ("buried", "paved over", "lost"),
}  # fmt: skip
_SURVEY: dict[str, tuple[str, ...]] = {
    "listening": ("sounding", "listening stick", "stick", "manual sounding", "acoustic survey",
                  "noise survey", "abhorchen", "horchdose", "ecoute"),
    "ground_microphone": ("ground mic", "geophone", "surface microphone", "bodenmikrofon",
                          "bodenmikrophon"),
    "correlator": ("correlation", "leak noise correlator", "lnc", "correlating",
                   "korrelator", "korrelation", "correlateur"),
    "walk": ("walked", "walking", "visual", "visual inspection", "walk over", "begehung",
             "sichtkontrolle"),
}  # fmt: skip
_SIGHT: dict[str, tuple[str, ...]] = {
    "running_water": ("running", "water running", "visible leak", "visible burst", "burst",
                      "water in street", "water in road", "water on road", "flowing water",
                      "wasseraustritt"),
    "wet_ground": ("wet", "wet patch", "damp", "damp patch", "soaked ground", "boggy", "seepage",
                   "feuchte stelle", "nasse stelle"),
    "noise": ("hissing", "leak noise", "noise heard", "gerausch", "rauschen"),
    "low_pressure": ("pressure", "poor pressure", "no pressure", "pressure low", "druckmangel"),
    "other": ("others",),
}  # fmt: skip
ENTRY_WORDS = {
    ("surveys", "method"): _SURVEY,
    ("sightings", "what"): _SIGHT,
    ("entries", "method"): _SURVEY,
    ("entries", "what"): _SIGHT,
    ("entries", "record"): _ENTRY,
    ("entries", "leak_kind"): _LEAKED,
    ("entries", "state"): _TURNED,
}
"""Table and column -> choice -> other spellings."""
