from __future__ import annotations

from district.cli import say
from district.errors import Finding


def test_findings_end_with_their_count() -> None:
    found = [Finding("error", "a.csv", got="x"), Finding("warning", "b.csv", got="y")]
    assert say.findings(found).splitlines() == [
        "error: a.csv: got x.",
        "warning: b.csv: got y.",
        "Findings: 1 error, 1 warning.",
    ]
    assert say.findings([]) == "Nothing wrong was found."
