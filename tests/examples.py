"""How many examples Hypothesis tries where each costs much."""

from __future__ import annotations

import os

_TIMES = int(os.environ.get("DISTRICT_EXAMPLES", "1"))


def examples(few: int) -> int:
    """`few` at every run; with `DISTRICT_EXAMPLES=5` in the environment five times as many."""
    return few * max(_TIMES, 1)
