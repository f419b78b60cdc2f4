"""The rules of the house that a linter does not know."""

from __future__ import annotations

import ast
import importlib
import re
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from functools import cache
from importlib.metadata import packages_distributions
from pathlib import Path

import pytest

from district.schema.entry_forms import ENTRY_FORM
from district.schema.inputs import LAYERS, OTHER_LAYERS, READINGS, RECORDS
from district.schema.outputs import OUTPUTS
from district.schema.stored import STORED
from district.units import suffix_of

ROOT = Path(__file__).parent.parent
HOUSE = ROOT / "district"
TESTS = ROOT / "tests"
OWN_FOLDERS = {"published", "properties", "bad_inputs", "cli", "browser", "benchmarks"}
DIMENSIONLESS = {
    "roughness", "hour", "properties", "level", "rank", "floor", "people", "register_digits",
    "profile_factor", "ratio_r", "accuracy_class", "closing_value",
}  # fmt: skip
"""Columns that are counts or coefficients by their trade name; a closing value has the unit beside
it."""
SOURCES = sorted(HOUSE.rglob("*.py"))
ROOMS = sorted(p.parent for p in HOUSE.glob("*/__init__.py"))


def _name(path: Path) -> str:
    return path.relative_to(HOUSE).as_posix()


@cache
def _tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


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


LONGEST = {"settings.py": 330}
"""Lines of the modules that may pass 300: one literal a setting, with its meaning."""


def test_modules_stay_small() -> None:
    long = {
        str(p.relative_to(ROOT)): n
        for p in HOUSE.rglob("*.py")
        if (n := len(p.read_text(encoding="utf-8").splitlines())) > LONGEST.get(_name(p), 300)
    }
    assert long == {}


@pytest.mark.parametrize("path", [HOUSE, *ROOMS], ids=lambda p: p.name)
def test_exports_are_exactly_what_can_be_imported(path: Path) -> None:
    """A room's `__init__` imports what it exports and nothing else."""
    name = ".".join(path.relative_to(ROOT).parts)
    imported = {
        alias.asname or alias.name
        for node in _tree(path / "__init__.py").body
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("district.")
        for alias in node.names
    }
    exported = importlib.import_module(name).__all__
    assert sorted(exported) == sorted(imported)


@pytest.mark.parametrize("path", SOURCES, ids=_name)
def test_every_module_and_public_name_explains_itself(path: Path) -> None:
    tree = _tree(path)
    silent = [
        node.name
        for node in tree.body
        if isinstance(node, (ast.FunctionDef, ast.ClassDef))
        and not node.name.startswith("_")
        and not ast.get_docstring(node)
    ]
    assert ast.get_docstring(tree)
    assert silent == []


@pytest.mark.parametrize("path", SOURCES, ids=_name)
def test_what_begins_with_an_underscore_stays_in_its_module(path: Path) -> None:
    borrowed = [
        alias.name
        for node in ast.walk(_tree(path))
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("district")
        for alias in node.names
        if alias.name.startswith("_") and not alias.name.endswith("__")
    ]
    assert borrowed == []


READERS = {
    "open", "fdopen", "read", "read_text", "read_bytes", "read_csv", "read_parquet", "read_excel",
    "read_feather", "read_json", "read_table", "read_file", "read_dataframe", "read_info",
    "list_layers", "loadtxt", "genfromtxt", "ParquetFile",
}  # fmt: skip
READ_HERE = {"intake", "store", "settings.py"}
OWN_RESOURCES = {
    "render/templates.py": {"read_text"},
    "render/map_frame.py": {"read_text"},
    "render/offline.py": {"read_text", "read_bytes"},
    "files.py": {"open"},
}
"""Style, script and template that come with the package, and Leaflet's: no file of the user's; the
lock of a run, which is opened and never read."""
WRITERS = {
    "write_bytes", "writelines", "to_parquet", "to_excel", "to_file", "to_feather",
    "to_pickle", "write_dataframe", "Workbook", "dump", "mkdir", "touch",
    "unlink", "rmdir", "rmtree", "copyfile", "copytree", "symlink_to",
}  # fmt: skip
"""Calls that put something on disk (`write_text` as a method, and `to_csv` with a path, too)."""


def _calls(path: Path) -> Iterator[tuple[str, ast.Call]]:
    for node in ast.walk(_tree(path)):
        if isinstance(node, ast.Call) and isinstance(node.func, (ast.Name, ast.Attribute)):
            called = node.func
            yield (called.id if isinstance(called, ast.Name) else called.attr), node


@pytest.mark.parametrize("path", SOURCES, ids=_name)
def test_files_are_read_only_in_intake_and_store(path: Path) -> None:
    if path.relative_to(HOUSE).parts[0] in READ_HERE:
        return
    allowed = OWN_RESOURCES.get(_name(path), set())
    assert {name for name, _ in _calls(path)} & READERS <= allowed


def _scopes(path: Path) -> Iterator[tuple[ast.FunctionDef, bool]]:
    """Each function of a module, and whether it works on a draft of `files`: it opens one, or it
    is private and a function that opens one calls it."""
    functions = [n for n in ast.walk(_tree(path)) if isinstance(n, ast.FunctionDef)]
    opens = {
        f.name
        for f in functions
        for n in ast.walk(f)
        if isinstance(n, ast.Name) and n.id in ("whole_file", "whole_folder")
    }
    reached = set(opens)
    for _ in functions:
        reached |= {
            n.func.id
            for f in functions
            if f.name in reached
            for n in ast.walk(f)
            if isinstance(n, ast.Call) and isinstance(n.func, ast.Name)
        }
    for f in functions:
        yield f, f.name in opens or (f.name.startswith("_") and f.name in reached)


@pytest.mark.parametrize("path", SOURCES, ids=_name)
def test_files_are_written_only_through_files(path: Path) -> None:
    """Drafts only: what a library must write itself, it writes where `files` will rename it."""
    if _name(path) == "files.py":
        return
    drafting = [f for f, drafts in _scopes(path) if drafts]
    inside = {id(n) for f in drafting for n in ast.walk(f)}
    loose = [
        f"line {node.lineno}: {name}"
        for name, node in _calls(path)
        if _writes(name, node) and id(node) not in inside
    ]
    assert loose == []


def _writes(name: str, node: ast.Call) -> bool:
    method = isinstance(node.func, ast.Attribute)
    if name == "write_text":
        return method
    if name == "to_csv":
        return bool(node.args) or any(k.arg == "path_or_buf" for k in node.keywords)
    if name == "open":
        return any(isinstance(a, ast.Constant) and set(str(a.value)) & set("wax+") for a in
                   [*node.args, *(k.value for k in node.keywords)])  # fmt: skip
    return name in WRITERS


def test_the_walk_sees_a_loose_write_and_a_loose_read(tmp_path: Path) -> None:
    """The two rules above can fail: each is shown a module that breaks it."""
    bad = tmp_path / "bad.py"
    bad.write_text("def f(path, frame):\n    frame.to_csv(path)\n    return path.read_text()\n")
    assert {name for name, _ in _calls(bad)} & READERS == {"read_text"}
    assert [name for name, node in _calls(bad) if _writes(name, node)] == ["to_csv"]
    assert not any(drafts for _, drafts in _scopes(bad))


OF_THE_DEVICE = {"value", "rate", "row"}
"""What a reading file says is in the unit of its device; the number of a row has none."""
OF_THE_ROW = {"value_low", "value_high", "lowers", "raises"}
"""Numbers of the audit are in the unit their row states."""


@pytest.mark.parametrize(
    "table",
    [*LAYERS, *OTHER_LAYERS, *RECORDS, ENTRY_FORM, READINGS, *STORED, *OUTPUTS],
    ids=str,
)
def test_every_number_carries_its_unit(table: object) -> None:
    bare = [
        c.name
        for c in table.columns  # type: ignore[attr-defined]
        if c.kind in ("real", "whole")
        and not suffix_of(c.name)
        and c.name not in DIMENSIONLESS | OF_THE_DEVICE | OF_THE_ROW
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
    "before", "after", "usual", "rollover", "step", "limit", "clip", "between"
}  # fmt: skip
"""A pressure exponent has no unit; `render.figure` takes its unit by name; registers are cleaned
in the meter's own unit, before they are converted; the change test counts in standard
deviations."""


def test_every_public_float_parameter_carries_its_unit() -> None:
    found = [f for path in sorted(HOUSE.rglob("*.py")) for f in _float_parameters(path)]
    assert [f for f in found if f.split("(")[1][:-1] not in UNITLESS_PARAMETERS] == []


def test_every_library_used_is_declared() -> None:
    declared = {
        re.split(r"[<>=\[]", line)[0].lower().replace("_", "-")
        for line in tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"][
            "dependencies"
        ]
    }
    makers = packages_distributions()
    used = {
        (node.module or "" if isinstance(node, ast.ImportFrom) else alias.name).split(".")[0]
        for path in SOURCES
        for node in ast.walk(_tree(path))
        if isinstance(node, (ast.Import, ast.ImportFrom))
        for alias in node.names
    }
    foreign = used - set(sys.stdlib_module_names) - {"district"}
    unsaid = {
        name
        for name in foreign
        if not declared & {maker.lower().replace("_", "-") for maker in makers[name]}
    }
    assert unsaid == set()


def test_the_top_level_is_as_laid_down() -> None:
    # Whoever owns the clone may be another than who runs the tests: git would then say nothing.
    command = ["git", "-c", "safe.directory=*", "ls-files"]
    tracked = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True).stdout
    top = {line.split("/")[0] for line in tracked.splitlines() if not line.startswith(".")}
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
