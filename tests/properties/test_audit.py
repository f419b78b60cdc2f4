"""The audit of any district is its balance: shares make one, and knowing more never widens."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import openpyxl
import pandas as pd
import xlsxwriter
from hypothesis import given, settings
from hypothesis import strategies as st

from district.balance import district_balance
from district.network.model import Network
from district.render.audit_sheet import write_audit
from district.results import Balance, Reduced
from district.schema import empty
from district.schema.inputs import WORKS
from district.settings import Settings
from tests.examples import examples
from tests.properties.test_mass import FEW, World, network_of, reduced_of, worlds
from tests.render.spreadsheet import Evaluator

FEWER = settings(FEW, max_examples=examples(3))


def audited(network: Network, reduced: Reduced, rules: Settings | None = None) -> Balance:
    return district_balance(
        network, reduced, settings=rules or Settings(), works=empty(WORKS), audited=True
    )


@given(worlds())
@FEWER
def test_contributions_make_the_limits_and_shares_make_one(world: World) -> None:
    audit = audited(network_of(world), reduced_of(world)).audit
    assert len(audit)
    for (_, name), rows in audit.groupby(["cell_id", "figure"], sort=False):
        total, size = rows.iloc[0], np.abs(rows["value"].fillna(0)).max() + 1e-9
        below, above = (np.sqrt((rows[c].fillna(0) ** 2).sum()) for c in ("lowers", "raises"))
        low = total["value"] - below
        if name in ("legitimate night use", "excess night flow"):
            low = max(low, 0.0)
        np.testing.assert_allclose(low, total["value_low"], rtol=1e-9, atol=1e-9 * size)
        np.testing.assert_allclose(
            total["value"] + above, total["value_high"], rtol=1e-9, atol=1e-9 * size
        )
        if below + above > 0:
            assert abs(rows["variance_share"].sum() - 1.0) < 1e-9
        else:
            assert rows["variance_share"].fillna(0).eq(0).all()


@given(worlds(), st.sampled_from(["meters", "allowance", "condition", "exponent", "assumed"]))
@FEWER
def test_halving_the_spread_of_an_input_never_widens_a_figure(world: World, which: str) -> None:
    network, reduced, rules = network_of(world), reduced_of(world), Settings()
    better, sharper = network, rules
    if which == "meters":
        edges, meters = network.boundaries, network.meters
        better = replace(
            network,
            boundaries=edges.assign(error_percent=edges["error_percent"] / 2),
            meters=meters.assign(error_percent=meters["error_percent"] / 2),
        )
    elif which == "allowance":
        home = rules.allowances["household"]
        half = home.model_copy(update={"spread_share": home.spread_share / 2})
        sharper = rules.model_copy(update={"allowances": {**rules.allowances, "household": half}})
    elif which == "assumed":
        half_year = rules.annual.model_copy(
            update={"assumed_spread_share": rules.annual.assumed_spread_share / 2}
        )
        sharper = rules.model_copy(update={"annual": half_year})
    else:
        section, name = (
            ("background", "condition_factor") if which == "condition" else ("pressure", "exponent")
        )
        old = getattr(rules, section)
        value, low, high = (getattr(old, name + s) for s in ("", "_low", "_high"))
        half_way = {f"{name}_low": (low + value) / 2, f"{name}_high": (high + value) / 2}
        sharper = rules.model_copy(update={section: old.model_copy(update=half_way)})
    before, after = (
        frame[frame["rank"] == 0].set_index(["cell_id", "figure"])
        for frame in (audited(network, reduced).audit, audited(better, reduced, sharper).audit)
    )
    widths = [f["value_high"] - f["value_low"] for f in (before, after)]
    pd.testing.assert_index_equal(before.index, after.index)
    assert (widths[1] <= widths[0] * (1 + 1e-9) + 1e-9).all()


@given(worlds())
@FEWER
def test_live_formulas_give_what_the_balance_gave(world: World) -> None:
    audit = audited(network_of(world), reduced_of(world)).audit
    with TemporaryDirectory() as folder:
        path = Path(folder) / "audit.xlsx"
        with xlsxwriter.Workbook(str(path)) as book:
            write_audit(book, book.add_worksheet("audit"), audit)
        live = openpyxl.load_workbook(path)["audit"]
        kept = openpyxl.load_workbook(path, data_only=True)["audit"]
    evaluator, formulas = Evaluator(live), 0
    for row in live.iter_rows():
        for cell in row:
            if cell.data_type == "f":
                formulas += 1
                told = kept[cell.coordinate].value
                np.testing.assert_allclose(
                    evaluator.cell(cell.coordinate), told, rtol=1e-6, atol=1e-9
                )
    assert formulas > len(audit)
