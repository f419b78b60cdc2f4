"""What speaks for a stretch, in a practitioner's words."""

from __future__ import annotations

import pandas as pd

from district.words import plural, spelled


def reasons(table: pd.DataFrame) -> list[str]:
    """One line a pipe: material and year, bore, earlier breaks, connections.

    `table`: material, installed_year, diameter_mm, breaks_count, connections_count.
    """
    columns = ["material", "installed_year", "diameter_mm", "breaks_count", "connections_count"]
    return [_reason(*row) for row in table[columns].itertuples(index=False, name=None)]


def _reason(
    material: str, installed_year: float, diameter_mm: float, breaks: int, connections: int
) -> str:
    """One line.

    >>> _reason("cast_iron", 1931.0, 80.0, 3, 6)
    'cast iron of 1931, 80 mm, 3 earlier breaks, 6 connections'
    >>> _reason("unknown", float("nan"), 100.0, 0, 1)
    'unknown material, year unknown, 100 mm, 1 connection'
    """
    name = "unknown material" if material == "unknown" else spelled(material)
    known = installed_year == installed_year
    parts = [f"{name} of {installed_year:.0f}" if known else f"{name}, year unknown"]
    if diameter_mm == diameter_mm:
        parts.append(f"{diameter_mm:.0f} mm")
    if breaks:
        parts.append(plural(breaks, "earlier break"))
    if connections:
        parts.append(plural(connections, "connection"))
    return ", ".join(parts)
