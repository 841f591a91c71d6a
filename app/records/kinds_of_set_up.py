"""The kinds of check by which an infusion is started: for the first time, and after it ran before."""

from dataclasses import replace

from app.records.kind import End, Given, Kind, Opens, Syringe, Totals
from app.records.reading import WHOLE
from app.records.sources import CAN_BE_PUT_RIGHT, JudgedBy, Source
from app.records.steps import (
    BASELINE,
    DEDICATED_LINE,
    PATIENT,
    PRIMED_VOLUME,
    TAKEN_BACK,
    WITH_CARRIER,
)

NURSES = ("first nurse", "second nurse")
# Where the account is judged, both may have counted together once.
ALONE = "without the other's reading, but for what is recorded as counted together"

SET_UP = Kind(
    name="set-up",
    words="Set-up",
    parts=NURSES,
    opens=Opens.BED,
    reads=WHOLE,
    # At its first set-up an infusion knows nothing. When it is set up again, the order may well be another
    # than the one of record, and is what the device is set to.
    given=frozenset({Given.PATIENT, Given.PREVIOUS, Given.RUNNING, Given.ORDERS, Given.ISSUED}),
    judges=(
        JudgedBy.ENGINE,
        JudgedBy.READ_ALIKE,
        JudgedBy.NONE_IS_AN_ANSWER,
        JudgedBy.RUNS_ELSEWHERE,
        JudgedBy.ORDERS,
        JudgedBy.PRIMING,
        JudgedBy.ISSUED,
    ),
    plans=(WITH_CARRIER, DEDICATED_LINE),
    entries=(BASELINE, PRIMED_VOLUME, PATIENT, TAKEN_BACK),
    end=End.CLEARED,
    put_right=CAN_BE_PUT_RIGHT,
    syringe=Syringe.BY_LABEL,
    ends=False,
    leads_to="",
    about="A new infusion.",
    meaning=(
        "I read order, label, device and patient myself, without the other's reading; "
        "I confirmed the safety steps that stand under my name; I agree that the infusion may start."
    ),
    sections=("safety_steps", "baseline", "baselines", "priming"),
)

# Whatever ran before stands. Its totals and what is left are read first, as at a change of device; order,
# label, device and line then as at a set-up. Which syringe it is that is put on, both say.
REPEAT_SET_UP = replace(
    SET_UP,
    name="repeat-set-up",
    words="Repeat set-up",
    reads=((Source.TOTALS.value, ()), *WHOLE),
    given=SET_UP.given | {Given.ACCOUNT},
    judges=(*SET_UP.judges, JudgedBy.LOADED_AGAIN, JudgedBy.ACCOUNT),
    syringe=Syringe.AS_SAID,
    totals=Totals.OF_ANOTHER_DEVICE,
    about="An infusion that was stopped begins anew: both read first what it gave and left.",
    meaning=(
        "I read what was given and left before, order, label, device and patient myself, "
        f"{ALONE}; I confirmed the safety steps that stand under my name; I agree that the infusion may "
        "start again."
    ),
    also_reads=("comes_as", "part_left"),
)
