"""The rules of the house that a linter does not know."""

from __future__ import annotations

import ast
import importlib
import inspect
import pkgutil
import subprocess
import sys
from pathlib import Path

import pytest

import district
from district.schema.inputs import LAYERS, READINGS, RECORDS
from district.schema.outputs import OUTPUTS
from district.schema.stored import STORED
from district.units import suffix_of

ROOT = Path(__file__).parent.parent
HOUSE = ROOT / "district"
TESTS = ROOT / "tests"
OWN_FOLDERS = {"published", "properties", "bad_inputs", "cli", "browser", "benchmarks"}
DIMENSIONLESS = {"roughness", "hour", "properties", "level", "rank", "register_digits"}
"""Columns that are counts or coefficients by their trade name."""
MODULES = sorted(
    m.name
    for m in pkgutil.walk_packages([str(HOUSE)], "district.")
    if not m.name.endswith("__main__")
)


def test_every_module_has_its_test_file() -> None:
    missing = []
    for path in sorted(HOUSE.rglob("*.py")):
        if path.name in ("__init__.py", "__main__.py"):
            continue
        inside = path.relative_to(HOUSE)
        if not (TESTS / inside.parent / f"test_{inside.name}").exists():
            missing.append(str(inside))
    assert missing == []


def test_every_test_file_has_its_module() -> None:
    strays = []
    for path in sorted(TESTS.rglob("test_*.py")):
        inside = path.relative_to(TESTS)
        if inside.parts[0] in OWN_FOLDERS or inside.name == "test_house.py":
            continue
        if not (HOUSE / inside.parent / inside.name.removeprefix("test_")).exists():
            strays.append(str(inside))
    assert strays == []


def test_modules_stay_small() -> None:
    long = {
        str(p.relative_to(ROOT)): n
        for p in HOUSE.rglob("*.py")
        if (n := len(p.read_text(encoding="utf-8").splitlines())) > 330
    }
    assert long == {}


@pytest.mark.parametrize("name", MODULES)
def test_exports_are_exactly_what_can_be_imported(name: str) -> None:
    module = importlib.import_module(name)
    for exported in getattr(module, "__all__", ()):
        assert hasattr(module, exported), f"{name}.{exported}"
    assert module.__doc__, f"{name} says nothing about itself"


@pytest.mark.parametrize("exported", district.__all__)
def test_public_verbs_explain_themselves(exported: str) -> None:
    assert inspect.getdoc(getattr(district, exported))


@pytest.mark.parametrize("table", [*LAYERS, *RECORDS, READINGS, *STORED, *OUTPUTS], ids=str)
def test_every_number_carries_its_unit(table: object) -> None:
    bare = [
        c.name
        for c in table.columns  # type: ignore[attr-defined]
        if c.kind in ("real", "whole")
        and not suffix_of(c.name)
        and c.name not in DIMENSIONLESS | {"value"}
    ]
    assert bare == []


def _float_parameters(path: Path) -> list[str]:
    found = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if not isinstance(node, ast.FunctionDef) or node.name.startswith("_"):
            continue
        for argument in (*node.args.args, *node.args.kwonlyargs):
            kind = ast.unparse(argument.annotation) if argument.annotation else ""
            if kind in ("float", "float | None") and not suffix_of(argument.arg):
                found.append(f"{path.relative_to(ROOT)}: {node.name}({argument.arg})")
    return found


UNITLESS_PARAMETERS = {"exponent", "value", "low", "high"} | {
    "before", "after", "usual", "rollover", "step"
}  # fmt: skip
"""A pressure exponent has no unit; `render.figure` takes its unit by name; registers are cleaned
in the meter's own unit, before they are converted."""


def test_every_public_float_parameter_carries_its_unit() -> None:
    found = [f for path in sorted(HOUSE.rglob("*.py")) for f in _float_parameters(path)]
    assert [f for f in found if f.split("(")[1][:-1] not in UNITLESS_PARAMETERS] == []


def test_the_top_level_is_as_laid_down() -> None:
    tracked = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False
    ).stdout.split("\n")
    top = {line.split("/")[0] for line in tracked if line and not line.startswith(".")}
    laid_down = {"README.md", "DEVELOPERS.md", "pyproject.toml", "district", "tests"}
    assert top <= laid_down | {"sample_network", "maps"}


def test_the_sample_stays_small() -> None:
    size = sum(
        p.stat().st_size
        for p in (ROOT / "sample_network").rglob("*")
        if p.is_file() and ".district" not in p.parts
    )
    assert 0 < size < 15e6


def test_the_house_holds() -> None:
    """Layers, siblings, rings and fenced libraries, as import-linter reads them."""
    run = subprocess.run(
        [str(Path(sys.executable).parent / "lint-imports"), "--no-cache"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.returncode == 0, run.stdout
