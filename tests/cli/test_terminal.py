from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from district.cli import main
from district.cli.terminal import Commands, plain
from tests.bad_inputs.small_folder import make_folder


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = make_folder(tmp_path_factory.mktemp("terminal") / "small")
    zones = folder / "zones.geojson"
    zones.write_text(zones.read_text().replace("Upper", "Ober-Zürich 水"), encoding="utf-8")
    return folder


def run(*words: object, encoding: str) -> tuple[int, bytes, bytes]:
    """Exit code, standard output and standard error of a command to a terminal of an encoding."""
    done = CliRunner(charset=encoding).invoke(main, [str(w) for w in words], prog_name="district")
    return done.exit_code, done.stdout_bytes, done.stderr_bytes


def of_a_process(*words: object, encoding: str) -> tuple[int, bytes, bytes]:
    done = subprocess.run(
        [sys.executable, "-m", "district", *(str(w) for w in words)],
        capture_output=True,
        env={**os.environ, "PYTHONIOENCODING": encoding},
        check=False,
    )
    return done.returncode, done.stdout, done.stderr


@pytest.mark.parametrize(
    ("way", "encoding"), [(of_a_process, "ascii"), (run, "ascii"), (run, "cp1252"), (run, "utf-8")]
)
def test_tables_are_printed_in_any_encoding(
    small: Path, way: Callable[..., tuple[int, bytes, bytes]], encoding: str
) -> None:
    code, out, err = way("locate", small, encoding=encoding)
    assert err == b""
    assert code in (0, 3)
    text = out.decode(encoding)
    assert ("m3" if encoding == "ascii" else "m³") in text


def test_json_keeps_every_sign_in_any_encoding(small: Path) -> None:
    words = ("balance", small, "--json")
    printed = [run(*words, encoding=e)[1] for e in ("ascii", "cp1252", "utf-8")]
    printed.append(of_a_process(*words, encoding="cp1252")[1])
    assert len(set(printed)) == 1
    assert b"Ober-Z\\u00fcrich \\u6c34" in printed[0]


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
