"""Small registers of pipes and breaks, typed by hand."""

from __future__ import annotations

from datetime import date
from typing import Any

import numpy as np
import pandas as pd

from district.plan.history import History, pipe_history
from district.renew_settings import Renew
from district.settings import Settings

FIRST, LAST = date(2000, 1, 1), date(2019, 12, 31)


def settings_of(**changes: Any) -> Settings:
    """Settings with a record of the years 2000 to 2019."""
    return Settings(renew=Renew(**{"record_dates": (FIRST, LAST), **changes}))


def pipes_of(*rows: dict[str, Any]) -> pd.DataFrame:
    """Pipes of layer PIPES without geometry: 1 km of cast iron from 1950 unless said."""
    usual = {
        "material": "cast_iron",
        "diameter_mm": 150.0,
        "installed_year": 1950.0,
        "length_m": 1000.0,
        "status": "in_use",
        "removed_year": np.nan,
        "ground": None,
        "street": None,
    }
    return pd.DataFrame([{**usual, **row} for row in rows])


def breaks_of(*rows: tuple[str, str] | tuple[str, str, str]) -> pd.DataFrame:
    """Table BREAKS from (day, pipe) or (day, pipe, kind)."""
    frame = pd.DataFrame([(*row, "main")[:3] for row in rows], columns=["date", "pipe_id", "kind"])
    return frame.assign(date=pd.to_datetime(frame["date"]))


def history_of(pipes: pd.DataFrame, breaks: pd.DataFrame, **changes: Any) -> History:
    """Their history, for a plan of 2020."""
    return pipe_history(pipes, breaks, settings=settings_of(**changes), year=2020)
