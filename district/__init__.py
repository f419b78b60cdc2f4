"""Find how much water leaks, in which zone, since when and on which stretch of pipe.

The public verbs take a district folder and return tables::

    from pathlib import Path
    import district

    report = district.report_folder(Path("sample_network"))
    report.balance.zones          # one row a zone, worst first
    report.location.likelihood    # one row a stretch of pipe
    district.write_report(report, Path("maps"))

Each stage is also a function on tables in its own room: `district.balance.district_balance`,
`district.detect.find_events`, `district.locate.locate_leaks`.
"""

from importlib.metadata import version

from district.errors import DistrictError, Finding, InputError, OutputError, StageError
from district.fieldwork import (
    isolate_event_folder,
    jobs_folder,
    step_test_folder,
    write_jobs,
    write_step_test,
)
from district.pipeline import (
    balance_folder,
    check_folder,
    events_folder,
    init_folder,
    inspect_folder,
    ledger_folder,
    locate_folder,
    report_folder,
    score_folder,
    shutoff_folder,
    simulate_folder,
    verify_folder,
    write_ledger,
    write_map,
    write_report,
)
from district.surveying import survey_folder, write_survey

__version__ = version("district")

__all__ = [
    "DistrictError",
    "Finding",
    "InputError",
    "OutputError",
    "StageError",
    "balance_folder",
    "check_folder",
    "events_folder",
    "init_folder",
    "inspect_folder",
    "isolate_event_folder",
    "jobs_folder",
    "ledger_folder",
    "locate_folder",
    "report_folder",
    "score_folder",
    "shutoff_folder",
    "simulate_folder",
    "step_test_folder",
    "survey_folder",
    "verify_folder",
    "write_jobs",
    "write_ledger",
    "write_map",
    "write_report",
    "write_step_test",
    "write_survey",
]
