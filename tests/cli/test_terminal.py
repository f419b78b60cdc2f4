from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from district.cli.terminal import Commands, plain
from tests.bad_inputs.small_folder import make_folder


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = make_folder(tmp_path_factory.mktemp("terminal") / "small")
    zones = folder / "zones.geojson"
    zones.write_text(zones.read_text().replace("Upper", "Ober-Zürich 水"), encoding="utf-8")
    return folder


def run(*words: object, encoding: str) -> subprocess.CompletedProcess[bytes]:
    return subprocess.run(
        [sys.executable, "-m", "district", *(str(w) for w in words)],
        capture_output=True,
        env={**os.environ, "PYTHONIOENCODING": encoding},
        check=False,
    )


@pytest.mark.parametrize("encoding", ["ascii", "cp1252", "utf-8"])
def test_tables_are_printed_in_any_encoding(small: Path, encoding: str) -> None:
    printed = run("locate", small, encoding=encoding)
    assert printed.stderr == b""
    assert printed.returncode in (0, 3)
    text = printed.stdout.decode(encoding)
    assert ("m3" if encoding == "ascii" else "m³") in text


def test_json_keeps_every_sign_in_any_encoding(small: Path) -> None:
    printed = [run("balance", small, "--json", encoding=e) for e in ("ascii", "cp1252", "utf-8")]
    assert len({p.stdout for p in printed}) == 1
    assert b"Ober-Z\\u00fcrich \\u6c34" in printed[0].stdout


def test_signs_are_written_as_near_as_ascii_gets() -> None:
    assert plain("m³: 0.65–0.79, Zürich, 水, 4 250 ≥") == "m3: 0.65-0.79, Zurich, ?, 4 250 >="


def test_a_failing_disk_is_one_line() -> None:
    @click.group(cls=Commands)
    def group() -> None:
        pass

    @group.command()
    def read() -> None:
        raise PermissionError(13, "Permission denied", "pipes.gpkg")

    result = CliRunner().invoke(group, ["read"])
    assert result.exit_code == 2
    assert result.stderr == (
        "pipes.gpkg: cannot be read or written (Permission denied). Check who may use it, and the "
        "room on its disk.\n"
    )
