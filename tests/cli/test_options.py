from __future__ import annotations

import json

import pytest

from district.cli.options import print_object, told
from district.errors import Finding, InputError


def broken() -> None:
    with told(True) as progress:
        progress("reading")
        raise InputError([Finding("error", "pipes", got="nothing", expected="pipes")])


def test_an_error_of_ours_ends_with_its_lines_and_its_status(
    capsys: pytest.CaptureFixture[str],
) -> None:
    with pytest.raises(SystemExit) as ended:
        broken()
    assert ended.value.code == 2
    out = capsys.readouterr()
    lines = json.loads(out.out)["error"]
    assert lines[0].startswith("pipes: got nothing, expected pipes")
    assert [line for line in out.err.splitlines() if line.strip()][-len(lines) :] == lines


def test_an_object_is_printed_whole(capsys: pytest.CaptureFixture[str]) -> None:
    print_object({"a": [1, 2], "b": None})
    assert json.loads(capsys.readouterr().out) == {"a": [1, 2], "b": None}
