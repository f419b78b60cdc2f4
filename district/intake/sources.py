"""Which files of the folder hold what."""

from __future__ import annotations

from dataclasses import dataclass
from glob import escape
from pathlib import Path

from district.errors import Finding
from district.intake.tabular import SUFFIXES as TABLE_SUFFIXES
from district.intake.vectors import FOLDERS, is_vector_file, layer_names, layers_in
from district.intake.vectors import SUFFIXES as VECTOR_SUFFIXES
from district.schema.entry_forms import ENTRY_FORM
from district.schema.inputs import LAYERS, NEEDED_LAYERS, OTHER_LAYERS, RECORDS
from district.settings import FILE, Readings, Settings

TOGETHER = "network.gpkg"
"""A file that may hold several layers, each under its table's name."""
USUAL_ENTRIES = "entries/*"
"""Where forms that crews filled in are looked for."""
_RECORD_SUFFIXES = (".csv", ".xlsx", ".parquet")
_PERHAPS = (".zip", ".parquet", ".sqlite")
"""May hold something else than layers: then their name alone does not make them one."""
_DESCRIBING = ("meters", "sensors", "pipes", "valves", "works")
"""Tables that `devices.read_devices` reads: pipes for bores, works for changes of meters."""
_SIDECARS = (".dbf", ".shx", ".prj", ".cpg", ".dat", ".map", ".id", ".mid")


@dataclass(frozen=True)
class Source:
    """Where a table comes from; `path` is None if there is nothing to read."""

    path: Path | None
    layer: str = ""
    findings: tuple[Finding, ...] = ()


def find_source(folder: Path, name: str, settings: Settings) -> Source:
    """The file of a layer or record: as `district.toml` says, else one called `name`."""
    is_record = name in {t.name for t in RECORDS}
    section = "records" if is_record else "layers"
    said = (settings.records if is_record else settings.layers).get(name)
    if said is not None:
        path = folder / said.file
        if is_vector_file(path):
            return Source(path, said.layer)
        return Source(None, findings=(_not_there(said.file, section, name),))
    suffixes = _RECORD_SUFFIXES if is_record else VECTOR_SUFFIXES
    found = _called(folder, name, suffixes)
    if found:
        return Source(found[0], findings=_left(found, section, name))
    blocked = _blocked(folder, name, suffixes)
    if blocked:
        return Source(None, findings=(_no_file(blocked[0]),))
    together = folder / TOGETHER
    if not is_record and together.is_file() and name in layer_names(together):
        return Source(together, name)
    if name not in NEEDED_LAYERS:
        return Source(None)
    return Source(
        None,
        findings=(
            Finding(
                "error",
                name,
                got="no file",
                expected=f"{name}.gpkg, {name}.geojson, {name}.shp, or a layer {name} in "
                f"{TOGETHER}",
                remedy=f"Put it in the folder, or name yours under [layers.{name}] in {FILE}",
            ),
        ),
    )


def find_entries(folder: Path, settings: Settings) -> tuple[list[Path], list[Finding]]:
    """The forms that crews filled in, in order of name: those that `file` under [records.entries]
    is a name or pattern of, else all in the folder `entries`."""
    said = settings.records.get(ENTRY_FORM.name)
    pattern = said.file if said is not None else USUAL_ENTRIES
    files = [p for p in _matching(folder, pattern) if p.suffix.lower() in _RECORD_SUFFIXES]
    if files or said is None or (pattern and set(pattern) & set("*?[")):
        # Of a pattern there may be no form yet.
        return files, []
    return [], [_not_there(pattern, "records", ENTRY_FORM.name)]


def find_readings(folder: Path, settings: Settings) -> list[tuple[Readings, list[Path]]]:
    """Every kind of reading file and its files, in order of name.

    Without [[readings]] in the settings: every table file under `readings/`, long layout.
    """
    said = settings.readings
    if not said:
        usual = folder / "readings"
        files = sorted(
            p for p in usual.rglob("*") if _is_of_use(p) and p.suffix.lower() in TABLE_SUFFIXES
        )
        return [(Readings(files="readings/*"), files)]
    return [(r, _matching(folder, r.files)) for r in said]


def reading_files(folder: Path, settings: Settings) -> tuple[Path, ...]:
    """The files on which the readings rest: their own, and all that describe the devices.

    When one of them changes, stored readings are out of date.
    """
    files = [p for _, paths in find_readings(folder, settings) for p in paths]
    for name in _DESCRIBING:
        path = find_source(folder, name, settings).path
        if path is not None and path.suffix.lower() in FOLDERS:
            files += sorted(p for p in path.rglob("*") if p.is_file())
        elif path is not None:
            files += [path, *_beside(path)]
    return tuple(dict.fromkeys(files))


def described_by(folder: Path, settings: Settings) -> tuple[Path, ...]:
    """The files of every layer and record there is, and what lies beside them."""
    files: list[Path] = []
    for table in (*LAYERS, *OTHER_LAYERS, *RECORDS):
        path = find_source(folder, table.name, settings).path
        if path is not None and path.suffix.lower() in FOLDERS:
            files += sorted(p for p in path.rglob("*") if p.is_file())
        elif path is not None:
            files += [path, *_beside(path)]
    files += find_entries(folder, settings)[0]
    return tuple(dict.fromkeys(files))


def _beside(path: Path) -> list[Path]:
    """The other files that a layer is made of."""
    return sorted(
        p
        for p in path.parent.glob(f"{escape(path.stem)}.*")
        if p.suffix.lower() in _SIDECARS or p.name == f"{path.name}-wal"
    )


def _matching(folder: Path, pattern: str) -> list[Path]:
    whole = Path(pattern)
    try:
        if whole.anchor:
            # From a root or a drive: a pattern itself must not begin there.
            folder, pattern = Path(whole.anchor), str(whole.relative_to(whole.anchor))
        return sorted(p for p in folder.glob(pattern) if _is_of_use(p)) if pattern else []
    except (OSError, ValueError, IndexError):
        # No pattern ('**x', '/') or no name a file can have: nothing is there to be found.
        return []


def _called(folder: Path, name: str, suffixes: tuple[str, ...]) -> list[Path]:
    if not folder.is_dir():
        return []
    alike = [p for p in folder.iterdir() if is_vector_file(p) and _stem(p) == name]
    known = [p for p in alike if p.suffix.lower() in suffixes]
    if suffixes is VECTOR_SUFFIXES:
        known = [p for p in known if p.suffix.lower() not in _PERHAPS or layers_in(p)]
    return sorted(known, key=lambda p: (suffixes.index(p.suffix.lower()), p.name))


def _blocked(folder: Path, name: str, suffixes: tuple[str, ...]) -> list[Path]:
    """What is called as the file should be, but is none."""
    if not folder.is_dir():
        return []
    alike = (p for p in folder.iterdir() if p.suffix.lower() in suffixes and _stem(p) == name)
    return sorted(p for p in alike if not is_vector_file(p))


def _not_there(file: str, section: str, name: str) -> Finding:
    return Finding(
        "error",
        file or FILE,
        got="no such file" if file else "no name of a file",
        expected=f"the file named in [{section}.{name}] of {FILE}",
        remedy="Correct the name, or put the file there",
    )


def _no_file(path: Path) -> Finding:
    return Finding(
        "error",
        path.name,
        got="a folder" if path.is_dir() else "a link that leads to no file",
        expected="a file",
        remedy="Put the file itself there, or remove it",
    )


def _is_of_use(path: Path) -> bool:
    """A file, but not the mark an office program leaves beside a book that is open."""
    return path.is_file() and not path.name.startswith("~$")


def _stem(path: Path) -> str:
    """The name without its suffix, 'pipes' for 'pipes.shp.zip' too."""
    stem = Path(path.stem) if path.suffix.lower() == ".zip" else path
    return (stem.stem if stem.suffix.lower() in VECTOR_SUFFIXES else path.stem).lower()


def _left(found: list[Path], section: str, name: str) -> tuple[Finding, ...]:
    return tuple(
        Finding(
            "warning",
            other.name,
            got=f"a second file for {name}",
            expected=f"one; {found[0].name} is used",
            remedy=f"Remove one, or name the right one under [{section}.{name}] in {FILE}",
        )
        for other in found[1:]
    )
