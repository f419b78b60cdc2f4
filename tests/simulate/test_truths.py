import pytest

from district.schema import check
from district.schema.truth import TRUTH, TRUTH_NIGHTS
from district.simulate.truths import truth_nights_table, truth_table


def test_tables_meet_the_schema(whole):
    assert check(TRUTH, truth_table(whole), source="truth")[1] == ()
    assert check(TRUTH_NIGHTS, truth_nights_table(whole), source="truth_nights")[1] == ()


def test_everything_seeded_is_told(whole):
    truth = truth_table(whole).set_index("id")
    assert truth["what"].value_counts().to_dict() == {
        "leak": 7,
        "building_leak": 1,
        "meter_fault": 1,
        "boundary_open": 1,
        "pool_filling": 1,
    }
    assert list(truth.index[truth["end_local"] != ""]) == ["L3", "F3"]
    assert truth["flow_l_s"]["L1"] == pytest.approx(1.2, rel=0.05)
    assert truth["flow_l_s"]["F3"] == 2.5


def test_nights_hold_background_and_leaks_and_know_the_faults(whole):
    nights = truth_nights_table(whole).set_index(["zone_id", "night"])
    assert len(nights) == 8 * 365
    flows = whole.flows
    here = whole.clock.night & (whole.clock.local.normalize() == "2025-12-10")
    own = flows.background_l_s["V3"] + flows.leaks_l_s[["L6", "L7"]].sum(axis=1)
    assert nights["leakage_l_s"]["V3", "2025-12-10"] == pytest.approx(own[here].mean(), abs=1e-5)
    affected = nights["affected"].groupby("zone_id").sum()
    assert set(affected.index[affected > 0]) == {"C4", "V1", "V2", "V3"}
    assert affected["V3"] == 65  # nights of 28 October to 31 December
    assert affected["V1"] == 139  # nights of 15 August to 31 December


def test_a_short_record_tells_only_what_happened_in_it(small):
    assert list(truth_table(small)["id"]) == ["L3", "L5"]
