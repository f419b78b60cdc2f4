"""What the fit says of materials, grounds, zones and growth."""

from __future__ import annotations

from district.plan.described import fit_terms
from district.plan.fit import fit_rates
from district.plan.history import pipe_history
from district.schema.columns import check
from district.schema.renewal_tables import FIT_TERMS
from district.settings import Settings
from tests.plan.made_history import breaks_of, history_of, pipes_of, settings_of

PIPES = pipes_of(
    *({"pipe_id": f"C{n}", "ground": "clay"} for n in range(8)),
    *({"pipe_id": f"S{n}", "ground": "sand", "material": "pvc"} for n in range(8)),
)
BREAKS = breaks_of(*((f"20{y:02d}-02-02", f"C{y % 8}") for y in range(20)), ("2004-05-05", "S1"))


def test_each_term_stands_with_its_counts_and_a_sentence() -> None:
    history = history_of(PIPES, BREAKS)
    table = fit_terms(fit_rates(history, settings=settings_of(growth="exponential")), history)
    assert list(check(FIT_TERMS, table, source="terms")[1]) == []
    rows = table.set_index(["term", "level"])
    assert rows.loc[("material", "cast_iron"), "breaks_count"] == 20
    assert rows.loc[("ground", "sand"), "pipes_count"] == 8
    assert rows.loc[("material", "pvc"), "said"].startswith("PVC breaks ")
    assert rows.loc[("material", "pvc"), "said"].endswith(
        "times as often as published, from 1 break."
    )
    assert rows.loc[("growth with age", "exponentially"), "said"].startswith("Breaks grow by ")
    assert (table["factor_index_low"] <= table["factor_index"]).all()
    assert (table["factor_index"] <= table["factor_index_high"]).all()


def test_without_a_record_the_factors_are_one_and_say_so() -> None:
    history = pipe_history(PIPES, breaks_of(), settings=Settings(), year=2020)
    table = fit_terms(fit_rates(history, settings=Settings()), history)
    factors = table[table["term"].isin(["district", "material", "ground", "class of bore"])]
    assert (factors["factor_index"] == 1.0).all()
    assert "Not told: there is no record of breaks." in set(table["said"])
    assert not table["said"].str.contains("from 0").any()


def test_without_growth_there_is_no_line_of_it() -> None:
    history = history_of(PIPES, BREAKS)
    table = fit_terms(fit_rates(history, settings=settings_of(growth="none")), history)
    assert "growth with age" not in set(table["term"])
