"""What a reading file that was taken in before now says otherwise."""

from __future__ import annotations

from collections.abc import Container
from pathlib import Path

import duckdb
import numpy as np

from district.errors import Finding
from district.store.database import connected
from district.store.manifest import KeptFile, Manifest
from district.store.raw import rows_file
from district.words import listed, plural

_CHANGES = """
    WITH before AS (
        SELECT device_id::VARCHAR AS device_id, time_utc, list((value, rate) ORDER BY row) AS said
        FROM read_parquet(?) GROUP BY ALL
    ), now AS (
        SELECT device_id::VARCHAR AS device_id, time_utc, list((value, rate) ORDER BY row) AS said
        FROM read_parquet(?) GROUP BY ALL
    )
    SELECT coalesce(b.device_id, n.device_id) AS device_id,
        count(*) FILTER (WHERE b.device_id IS NULL) AS new_count,
        count(*) FILTER (WHERE n.device_id IS NULL) AS gone_count,
        count(*) FILTER (WHERE b.said != n.said) AS corrected_count
    FROM before b FULL JOIN now n ON b.device_id = n.device_id AND b.time_utc = n.time_utc
    WHERE b.said IS DISTINCT FROM n.said
    GROUP BY 1 ORDER BY 1
"""


def changes(
    place: Path, before: Manifest | None, files: tuple[KeptFile, ...], *, known: Container[str]
) -> list[Finding]:
    """A note for each file taken in before of which a value was corrected or is gone.

    A file that only grew is what it should be. One that is read by other settings now is not
    compared, nor are devices that are not `known` any more.
    """
    if before is None:
        return []
    now = {f.name: f for f in files}
    digests = {f.digest for f in files}
    found: list[Finding] = []
    for old in before.files:
        new = now.get(old.name)
        if new is None and old.digest not in digests:
            found.append(_gone(old))
        elif new is not None and new.digest != old.digest and new.mark == old.mark:
            found += _changed(place, old, new, known)
    return found


def _gone(old: KeptFile) -> Finding:
    return Finding(
        "note",
        old.name,
        got=f"no such file any more; it held {plural(old.readings_count, 'reading')}",
        expected="the files that were read before, or newer ones",
        remedy="Nothing need be done if that was meant; else put it back",
    )


def _changed(place: Path, old: KeptFile, new: KeptFile, known: Container[str]) -> list[Finding]:
    try:
        with connected() as connection:
            paths = [str(rows_file(place, f.part)) for f in (old, new)]
            hit = connection.execute(_CHANGES, paths).df()
    except duckdb.Error:
        # The older rows are gone or damaged: nothing to compare with.
        return []
    hit = hit[np.array([device_id in known for device_id in hit["device_id"]], dtype=bool)]
    lost = hit[(hit["corrected_count"] > 0) | (hit["gone_count"] > 0)]
    if lost.empty:
        return []
    said = [
        f"{plural(int(hit[column].sum()), 'reading')} {what}"
        for column, what in (
            ("corrected_count", "with another value"),
            ("gone_count", "no longer there"),
            ("new_count", "new"),
        )
        if hit[column].sum()
    ]
    return [
        Finding(
            "note",
            new.name,
            f"device{'s' if len(lost) > 1 else ''} {listed(lost['device_id'])}",
            got=f"{', '.join(said)} since it was last read",
            expected="what it said before, and more",
            remedy="Nothing need be done if that was meant; the file is used as it is now",
        )
    ]
