"""Headings of reading files that stand for nothing: given twice, or not at all."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable

from district.errors import Finding

_AGAIN = re.compile(r"(.+)\.\d+")
_NONE = re.compile(r"Unnamed: (\d+)")


def first_of(heading: str, headings: Collection[str], known: Collection[str] = ()) -> str:
    """The heading that this one repeats, '' if it stands for itself.

    A table gives the second column headed MA as 'MA.1'; `known` are ids that may look so.

    >>> first_of("MA.1", ["time", "MA", "MA.1"]), first_of("MA.1", ["time", "MA.1"])
    ('MA', '')
    """
    again = _AGAIN.fullmatch(heading)
    return again[1] if again and again[1] in headings and heading not in known else ""


def shown(heading: str) -> str:
    """A heading as the file has it: an empty one comes out of a table as 'Unnamed: 2'.

    >>> shown("MA"), shown("Unnamed: 2")
    ('MA', '(no heading)')
    """
    return "(no heading)" if _NONE.fullmatch(heading) else heading


def repeated(
    used: Iterable[str], headings: Collection[str], file: str, known: Collection[str] = ()
) -> list[Finding]:
    """A finding for each heading `used` that further columns repeat."""
    twice = {first_of(h, headings, known) for h in headings} & set(used)
    return [
        Finding(
            "warning",
            file,
            column=heading,
            got="a second column of that heading",
            expected="each heading only once",
            remedy="Rename or remove one of them; the first is used",
        )
        for heading in sorted(twice)
    ]


def nameless(headings: Iterable[str], file: str) -> list[Finding]:
    """A finding for each column that holds something below no heading."""
    return [
        Finding(
            "warning",
            file,
            f"column {int(none[1]) + 1} from the left",
            got="values below no heading",
            expected="a meter_id or sensor_id above them",
            remedy="Write the heading; until then the column is left out",
        )
        for heading in headings
        if (none := _NONE.fullmatch(heading))
    ]


def named_besides(device_id: str, heading: str, file: str, settings_file: str) -> Finding:
    """A column headed by a device, which the settings take from another column."""
    return Finding(
        "warning",
        file,
        column=device_id,
        got=f"a second column for {device_id}, besides {heading}",
        expected=f"only {heading}, which {settings_file} names for it",
        remedy="Correct columns under [[readings]], or remove this column; it is left out",
    )
