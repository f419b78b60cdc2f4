"""What evidence from the field takes for granted, in a sentence a kind."""

from __future__ import annotations

from collections.abc import Collection

from district.hydraulics.noise_loss import LOSS_DB_PER_M, LOUD_DB
from district.locate.correlator import FALSE_PEAK
from district.locate.sighting import SHOWS_M, UNRELATED
from district.locate.step_test import OTHER_IN_SECTION
from district.locate.survey import DETECTION
from district.locate.wet_floor import LASTING, ONCE, SEEPS_M
from district.schema.located import EVIDENCE_KINDS
from district.words import percent, spelled


def field_assumptions(kinds: Collection[str]) -> list[str]:
    """One sentence for each of the `kinds` of evidence from the field, in their usual order."""
    said = {
        "step_test": (
            "Assumed of a step test: a section holds another leak, or a use nobody knows of, in "
            f"{percent(OTHER_IN_SECTION)} of cases."
        ),
        "correlator": (
            "Taken of correlations by common practice, without a source: the noise is of something "
            f"else in {percent(FALSE_PEAK)} of cases. Assumed: how far the speed of sound lies "
            "from that of the material, where it was not measured."
        ),
        "acoustic": (
            "Taken of acoustic loggers by common practice, without a source: a usual leak stands "
            f"{LOUD_DB:g} dB above the quiet of the night, and a metre of pipe takes "
            f"{LOSS_DB_PER_M['cast_iron']:g} dB of it in cast iron, {LOSS_DB_PER_M['pvc']:g} dB in "
            f"PVC and {LOSS_DB_PER_M['polyethylene']:g} dB in polyethylene."
        ),
        "wet_floor": (
            "Taken of floor sensors, leak cables and chamber floats by common practice, without a "
            "source: water comes "
            f"{SEEPS_M:g} m through the ground on average, and a wet floor has nothing to do with "
            f"the leak in {percent(ONCE)} of cases, in {percent(LASTING)} where it was wet again "
            "or for days, and not before the leak."
        ),
        "sighting": (
            "Taken of reports by common practice, without a source: "
            f"{percent(UNRELATED)} of them have nothing to do with the leak, and running water "
            f"shows {SHOWS_M['running_water']:g} m from it on average."
        ),
        "survey": (
            "Taken of surveys by common practice, without a source, where no chance is stated with "
            "them: the shares found of leaks passed on metal and cement, and on plastic, are "
            + ", ".join(
                f"{spelled(method)} {percent(hard)} and {percent(soft)}"
                for method, (hard, soft) in DETECTION.items()
            )
            + "."
        ),
    }
    return [said[kind] for kind in EVIDENCE_KINDS if kind in kinds and kind in said]
