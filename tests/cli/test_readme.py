"""The README shows what the command really prints, and names every column and setting."""

from __future__ import annotations

import re
import typing
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from pydantic import BaseModel

from district import pipeline
from district.cli import main
from district.schema.entry_forms import ENTRY_FORM
from district.schema.inputs import LAYERS, OTHER_LAYERS, READINGS, RECORDS
from district.settings import Settings

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
COMMANDS = ("events", "verify", "shutoff", "locate", "reach", "score")
SESSIONS = re.findall(r"```text\n(.*?)```", README, flags=re.DOTALL)


@pytest.fixture(scope="module")
def printed(tmp_path_factory: pytest.TempPathFactory) -> str:
    """All that the commands of the sessions print, what they ask for alike found once."""
    sample, out = str(ROOT / "sample_network"), str(tmp_path_factory.mktemp("out"))
    shut = ["isolate", sample, "--pipe", "P0030"]
    walk = ["survey", sample, "--zone", "V1"]
    ledger = ["ledger", sample, "--out", out]
    step = ["step-test", sample, "--zone", "V1"]
    sheets = ["sheets", sample, "--out", f"{out}/jobs"]
    each = ([c, sample] for c in COMMANDS)
    renew = ["renew", sample, "--out", out]
    past = ["renew", sample, "--backtest", "2015"]
    runs = (["report", sample, "--out", out], *each, shut, walk, ledger, step, sheets, renew, past)
    with pytest.MonkeyPatch.context() as patched:
        for name in ("open_folder", "events_folder", "locate_folder"):
            patched.setattr(pipeline, name, _once(getattr(pipeline, name)))
        return "\n".join(CliRunner().invoke(main, args).stdout for args in runs)


def _once(stage: Callable[..., Any]) -> Callable[..., Any]:
    # `audited` adds what each figure is made of, and changes none.
    done: dict[tuple[Path, bool], Any] = {}

    def found(folder: Path, *, ahead: bool = False, **how: Any) -> Any:
        key = (folder, ahead)
        if key not in done:
            done[key] = stage(folder, **({"ahead": True} if ahead else {}), **how)
        return done[key]

    return found


def test_the_sessions_are_what_the_commands_print(printed: str) -> None:
    assert len(SESSIONS) >= 12
    assert [block for block in SESSIONS if block not in printed] == []


def _keys(model: type[BaseModel]) -> Iterator[str]:
    for name, field in model.model_fields.items():
        yield name
        for kind in typing.get_args(field.annotation) or (field.annotation,):
            for inner in (kind, *typing.get_args(kind)):
                if isinstance(inner, type) and issubclass(inner, BaseModel):
                    yield from _keys(inner)


def test_every_setting_is_named() -> None:
    assert [k for k in _keys(Settings) if not re.search(rf"\b{k}\b", README)] == []


def _described(model: type[BaseModel]) -> Iterator[tuple[str, str]]:
    for name, field in model.model_fields.items():
        if field.description:
            yield name, field.description
        for kind in typing.get_args(field.annotation) or (field.annotation,):
            for inner in (kind, *typing.get_args(kind)):
                if isinstance(inner, type) and issubclass(inner, BaseModel):
                    yield from _described(inner)


def test_every_setting_means_the_same_here_and_in_the_settings_file() -> None:
    rows = [line for line in README.splitlines() if line.startswith("| `")]
    described = list(_described(Settings))
    assert len(described) >= 40
    unlike = [
        (name, meaning)
        for name, meaning in described
        if not any(re.search(rf"\b{name}\b", row) and meaning in row for row in rows)
    ]
    assert unlike == []


def test_every_input_column_is_named() -> None:
    tables = (*LAYERS, *OTHER_LAYERS, *RECORDS, ENTRY_FORM, READINGS)
    columns = {c.name for t in tables for c in t.columns}
    assert [c for c in sorted(columns - {"geometry"}) if f"`{c}`" not in README] == []


def test_the_settings_example_is_valid(tmp_path: Path) -> None:
    from district.settings import read_settings

    (example,) = re.findall(r"```toml\n(.*?)```", README, flags=re.DOTALL)
    (tmp_path / "district.toml").write_text(example, encoding="utf-8")
    assert read_settings(tmp_path).layers["pipes"].units == {"diameter_mm": "in"}
