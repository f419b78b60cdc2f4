from __future__ import annotations

import json

from district.cli.machine import to_json
from district.cli.renew_objects import backtest_object, renewal_object
from district.schema.renewal_tables import RENEWAL, RENEWAL_CAUTION
from tests.render.made_renewal import bare, made, made_backtest


def test_a_plan_is_json_with_every_table_and_empty_values_as_null() -> None:
    told = json.loads(to_json(renewal_object(made(), ())))
    assert [name for name in told if name in {t.name for t in RENEWAL}] == [t.name for t in RENEWAL]
    assert told["caution"] == RENEWAL_CAUTION
    assert told["renewal_pipes"][3]["installed_year"] is None
    assert told["survey_year"][0]["last_surveyed"] == "2024-03-02"
    assert told["basis"]["first"] == "2006-01-01"
    assert told["zones"]["Z2"] == "O'Hara & Söhne"


def test_an_empty_plan_and_a_test_of_the_list() -> None:
    told = json.loads(to_json(renewal_object(bare(), ())))
    assert told["deciles"] == told["backtest_said"] == told["findings"] == []
    tested = json.loads(to_json(backtest_object(made_backtest(), made().rates)))
    assert tested["until_year"] == 2026.0
    assert len(tested["deciles"]) == 10
    assert tested["backtest"][0]["more_10_share"] is None
