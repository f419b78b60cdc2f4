from __future__ import annotations

from pathlib import Path

from district.planning import write_renewal
from tests.render.made_renewal import made


def test_all_files_of_a_plan_are_written(tmp_path: Path) -> None:
    paths = write_renewal(made(), tmp_path / "out")
    assert all(p.is_file() for p in paths)
    assert paths[0] == tmp_path / "out" / "renewal.html"
