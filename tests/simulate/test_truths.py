import pytest

from district.schema import check
from district.schema.truth import TRUTH, TRUTH_NIGHTS
from district.simulate.truths import truth_nights_table, truth_table


def test_tables_meet_the_schema(autumn):
    assert check(TRUTH, truth_table(autumn), source="truth")[1] == ()
    assert check(TRUTH_NIGHTS, truth_nights_table(autumn), source="truth_nights")[1] == ()


def test_everything_seeded_and_running_is_told(autumn):
    truth = truth_table(autumn).set_index("id")
    assert list(truth.index) == ["L1", "L2", "L4", "L9", "L5", "L6", "L7", "F1", "F2"]
    assert set(truth["end_local"]) == {""}
    assert truth["flow_l_s"]["L1"] == pytest.approx(1.2, rel=0.05)
    assert truth["flow_l_s"]["F2"] == pytest.approx(0.6, rel=0.1)


def test_leaks_are_told_by_position_along_their_pipe(autumn):
    truth = truth_table(autumn).set_index("id")
    lines = autumn.layout.pipes.set_index("pipe_id").geometry
    for seed, leak in autumn.leaks.iterrows():
        if seed in truth.index:
            along = lines[leak["pipe_id"]].project(leak.geometry)
            assert truth["along_m"][seed] == pytest.approx(along, abs=0.06)
    assert truth.loc[["L4", "F1", "F2"], "along_m"].isna().all()


def test_nights_hold_background_and_leaks_and_know_the_faults(autumn):
    nights = truth_nights_table(autumn).set_index(["zone_id", "night"])
    assert len(nights) == 8 * 14
    flows = autumn.flows
    here = autumn.clock.night & (autumn.clock.local.normalize() == "2025-10-20")
    own = flows.background_l_s["V3"] + flows.leaks_l_s[["L6", "L7"]].sum(axis=1)
    assert nights["leakage_l_s"]["V3", "2025-10-20"] == pytest.approx(own[here].mean(), abs=1e-5)
    affected = nights["affected"].groupby("zone_id").sum()
    assert affected[affected > 0].to_dict() == {"C4": 1, "V1": 14, "V2": 14, "V3": 1}


def test_what_the_step_test_cuts_off_leaks_no_more(autumn):
    nights = truth_nights_table(autumn).set_index(["zone_id", "night"])["leakage_l_s"]
    assert nights["V3", "2025-10-17"] < nights["V3", "2025-10-18"] - 0.02


def test_a_short_record_tells_only_what_happened_in_it(small):
    assert list(truth_table(small)["id"]) == ["L3", "L5"]
