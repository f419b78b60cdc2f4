"""Everything people receive, written in one go."""

from __future__ import annotations

from pathlib import Path

from district.files import whole_folder, write_text
from district.render.layers import write_layers
from district.render.map import write_map
from district.render.report import report_page
from district.render.tables import write_tables
from district.render.visits import without_apparent
from district.render.workbook import write_workbook
from district.results import DistrictReport


def write_pages(report: DistrictReport, out: Path) -> tuple[Path, ...]:
    """Write report, map, layers, workbook and tables into `out`; other files there stay.

    index.html, map.html, results.gpkg, results.xlsx, tables/*.csv; each the same bytes from the
    same report. Nothing reaches `out` before all of it is drawn. Returns the paths in that order.
    Raises `OutputError` where it cannot be written.
    """
    report = without_apparent(report)
    with whole_folder(out) as draft:
        index = draft / "index.html"
        write_text(index, report_page(report))
        written = (
            index,
            write_map(report, draft / "map.html"),
            write_layers(report, draft / "results.gpkg"),
            write_workbook(report, draft / "results.xlsx"),
            *write_tables(report, draft / "tables"),
        )
    return tuple(out / path.relative_to(draft) for path in written)
