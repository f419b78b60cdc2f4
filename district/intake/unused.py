"""Which of the user's columns nothing was found to be done with."""

from __future__ import annotations

from collections.abc import Iterable

from district.intake.proposal import ColumnGuess

_OF_SOFTWARE = frozenset(
    [
        "fid",
        "ogc_fid",
        "objectid",
        "objectid_1",
        "gid",
        "geom",
        "geometry",
        "the_geom",
        "shape",
        "wkt",
        "wkb_geometry",
        "shape_length",
        "shape_leng",
        "shape_len",
        "shape_area",
        "shape__length",
        "shape__area",
    ]
)
"""Row numbers and geometry as programs write them: nobody put them there to be read."""


def unused(
    headings: Iterable[object], columns: Iterable[ColumnGuess], *, own: Iterable[str] = ()
) -> tuple[str, ...]:
    """The headings that no guess takes, each once and in their order.

    `own` are names of ours that are read whatever was guessed. Row numbers and geometry that
    programs write of themselves are passed over.

    >>> unused(["fid", "MAT", "Remarks"], [ColumnGuess("material", "MAT", "sure", "")])
    ('Remarks',)
    """
    taken = {c.theirs for c in columns}
    passed = _OF_SOFTWARE.union(own)
    names = dict.fromkeys(str(h) for h in headings)
    return tuple(n for n in names if n not in taken and n.strip().lower() not in passed)
