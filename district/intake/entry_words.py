"""How crews write what a form asks for: words -> our choices. Common practice, no source."""

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
ENTRY_WORDS = {
    ("entries", "record"): _ENTRY,
    ("entries", "leak_kind"): _LEAKED,
    ("entries", "state"): _TURNED,
}
"""Table and column -> choice -> other spellings."""
