"""What happened in zones and buildings, on the small folder."""

from __future__ import annotations

from pathlib import Path

from district import store
from district.happened import events_found
from district.pipeline import balance_folder
from tests.bad_inputs.small_folder import make_folder


def test_events_rest_on_the_nights_balanced(tmp_path: Path) -> None:
    folder = make_folder(tmp_path / "small")
    opened, found = balance_folder(folder)
    events = events_found(
        opened.network,
        opened.reduced,
        found,
        works=opened.inputs.works,
        place=store.place(folder),
        settings=opened.settings,
    )
    assert events.basis.first == found.nights["night"].min().date()
    assert set(events.night_noise["cell_id"]) <= set(found.nights["cell_id"])
