"""The kinds of check as data: what opens one, what is read, who judges it, and what its end means.

What differs from kind to kind is asked of its row here, and stands in no code.
"""

from dataclasses import replace

from app.records.field_table import LIMITS
from app.records.kept import SECOND
from app.records.kind import End, Given, Kind, Opens, Syringe, Totals
from app.records.kinds_of_set_up import ALONE, NURSES, REPEAT_SET_UP, SET_UP
from app.records.reading import Scope
from app.records.sources import JudgedBy, Source
from app.records.steps import (
    BASELINE,
    DEDICATED_LINE,
    NEW_SETTINGS,
    NEW_SYRINGE,
    OFF_THE_PATIENT,
    PATIENT,
    PRIMED_VOLUME,
    TAKEN_BACK,
    TOTALS_CLEARED,
    WITH_CARRIER,
)

__all__ = [
    "NURSES",
    "REPEAT_SET_UP",
    "SET_UP",
    "End",
    "Given",
    "Kind",
    "Opens",
    "Syringe",
    "Totals",
    "kind_named",
]

RE_CHECK = Kind(
    name="re-check",
    words="Re-check",
    parts=NURSES,
    opens=Opens.RUNNING,
    reads=tuple(
        (each.value, ())
        for each in (Source.WRISTBAND, Source.ORDER, Source.LABEL, Source.DEVICE, Source.TOTALS)
    ),
    given=frozenset(Given) - {Given.SYRINGE, Given.ISSUED},
    judges=(
        JudgedBy.ENGINE,
        JudgedBy.READ_ALIKE,
        JudgedBy.NONE_IS_AN_ANSWER,
        JudgedBy.RUNS_ELSEWHERE,
        JudgedBy.ORDERS,
        JudgedBy.ON_DEVICE,
        JudgedBy.ACCOUNT,
    ),
    plans=(),
    entries=(),
    end=End.DONE,
    # Nothing is changed on a device that runs.
    put_right=(),
    syringe=Syringe.STAYS,
    ends=False,
    leads_to=REPEAT_SET_UP.name,
    about="Nothing is changed: two read what runs.",
    meaning=(
        f"I read order, label, device and patient myself, {ALONE}; I agree that what runs is what is "
        "ordered, for this patient."
    ),
    sections=(),
)

SETTINGS_CHANGE = Kind(
    name="settings-change",
    words="Settings change",
    parts=NURSES,
    opens=Opens.BEGUN,
    # The new order is judged as any order is: with the chart. The label says what strength the device must be
    # set to, where an order states none or the device takes volumes.
    reads=tuple(
        (each.value, ())
        for each in (Source.WRISTBAND, Source.CHART, Source.ORDER, Source.LABEL, Source.DEVICE)
    ),
    # The order is new: it is not held to the one of record. The account says which syringe is on.
    given=frozenset({Given.PATIENT, Given.PREVIOUS, Given.RUNNING, Given.ORDERS, Given.ACCOUNT}),
    judges=(
        JudgedBy.ENGINE,
        JudgedBy.READ_ALIKE,
        JudgedBy.NONE_IS_AN_ANSWER,
        JudgedBy.RUNS_ELSEWHERE,
        JudgedBy.ORDERS,
        JudgedBy.ON_DEVICE,
    ),
    plans=(NEW_SETTINGS,),
    entries=(BASELINE,),
    end=End.CLEARED,
    ends=False,
    # Another syringe is a syringe change.
    put_right=(Source.WRISTBAND, Source.CHART, Source.ORDER, Source.DEVICE),
    syringe=Syringe.STAYS,
    leads_to="",
    about="A new order: the device is paused and programmed, and two check it before it runs on.",
    meaning=(
        "I read the new order, the label, the device and the patient myself, without the other's reading; "
        "I confirmed the safety steps that stand under my name; I agree that the infusion may run on so."
    ),
    sections=("safety_steps", "baseline", "baselines"),
)

SYRINGE_CHANGE = Kind(
    name="syringe-change",
    words="Syringe change",
    parts=NURSES,
    opens=Opens.BEGUN,
    # The old one before it is released, then what is loaded. The order is the one that two have signed.
    reads=tuple((each.value, ()) for each in (Source.TOTALS, Source.WRISTBAND, Source.LABEL, Source.DEVICE)),
    given=frozenset(Given) - {Given.SYRINGE, Given.ORDERS},
    judges=(
        JudgedBy.ENGINE,
        JudgedBy.READ_ALIKE,
        JudgedBy.NONE_IS_AN_ANSWER,
        JudgedBy.RUNS_ELSEWHERE,
        JudgedBy.PRIMING,
        JudgedBy.ISSUED,
        JudgedBy.LOADED_AGAIN,
        JudgedBy.ACCOUNT,
    ),
    plans=(NEW_SYRINGE,),
    entries=(BASELINE, PRIMED_VOLUME, PATIENT, TAKEN_BACK),
    end=End.CLEARED,
    ends=False,
    put_right=(Source.WRISTBAND, Source.LABEL, Source.DEVICE),
    syringe=Syringe.IS_ANOTHER,
    leads_to="",
    agrees="Label and device are as ordered",
    about="Another syringe of the same drug: the line comes off the patient before the old one is released.",
    meaning=(
        "I read what the old syringe had given and left, the new label, the device and the patient "
        f"myself, {ALONE}; I confirmed the safety steps that stand under my name; I agree that the "
        "infusion may run on with this syringe."
    ),
    sections=("safety_steps", "baseline", "baselines", "priming"),
    also_reads=("comes_as", "part_left"),
)

_PATIENT_ON_BAND: tuple[str, tuple[str, ...]] = (Source.WRISTBAND.value, ("identifier", "birth_date"))
# What says that it is the syringe that hangs, and what decides the dose.
_IN_FORCE: Scope = (
    (Source.LABEL.value, ("identifier", "drug", "strength", "amount", "volume", "concentration", "lot")),
    (
        Source.DEVICE.value,
        (
            "drug",
            "strength",
            "amount",
            "volume",
            "concentration",
            "mode",
            "demand_dose",
            "lockout",
            "continuous_rate",
            *(name for limit in LIMITS for name in limit),
        ),
    ),
)
_TOTALS: tuple[str, tuple[str, ...]] = (Source.TOTALS.value, ())
# Two know both: how awake the patient is, and how fast the breathing.
_AWAKE: tuple[str, tuple[str, ...]] = (Source.BEDSIDE.value, ("sedation", "respiratory_rate"))
_BEDSIDE: tuple[str, tuple[str, ...]] = (Source.BEDSIDE.value, ())
_GIVES: Scope = (_TOTALS, _AWAKE)
_TAKES: Scope = (_PATIENT_ON_BAND, *_IN_FORCE, _TOTALS, _BEDSIDE)

HANDOFF = Kind(
    name="handoff",
    words="Handoff",
    parts=("outgoing nurse", "incoming nurse"),
    opens=Opens.RUNNING,
    reads=_TAKES,
    each_reads=(_GIVES, _TAKES),
    given=frozenset(
        {
            Given.PATIENT,
            Given.PREVIOUS,
            Given.ORDER_OF_RECORD,
            Given.SYRINGE,
            Given.RUNNING,
            Given.ACCOUNT,
        }
    ),
    judges=(
        JudgedBy.ENGINE,
        JudgedBy.IN_FORCE,
        JudgedBy.PROTOCOL,
        JudgedBy.RUNS_ELSEWHERE,
        JudgedBy.ACCOUNT,
    ),
    plans=(),
    entries=(),
    end=End.DONE,
    ends=False,
    put_right=(),
    syringe=Syringe.STAYS,
    leads_to=REPEAT_SET_UP.name,
    about="Another nurse takes over: both look, and it runs on.",
    meaning=(
        f"I read my part myself, {ALONE}; I agree that with both signatures the incoming nurse "
        "answers for this infusion."
    ),
    sections=("as_it_stands",),
    agrees="What runs is what two nurses last checked",
    # It is compared with what is in force, which stays so.
    puts_in_force=False,
    responsible=SECOND,
)

# What does not run shows nothing that is in force: who it is, what was given, what is left, and how awake.
HANDOFF_STANDING = replace(
    HANDOFF,
    name="handoff-standing",
    words="Handoff of what stands",
    opens=Opens.STANDING,
    reads=(_PATIENT_ON_BAND, _TOTALS, _AWAKE),
    each_reads=(_GIVES, (_PATIENT_ON_BAND, _TOTALS, _AWAKE)),
    given=frozenset({Given.PATIENT, Given.ACCOUNT}),
    judges=(JudgedBy.ENGINE, JudgedBy.IN_FORCE, JudgedBy.PROTOCOL, JudgedBy.ACCOUNT),
    about="Another nurse takes over what is stopped, held, away or has a dead device: nothing is started.",
    meaning=(
        "I read my part myself, without the other's reading; I agree that with both signatures the incoming "
        "nurse answers for this infusion as it stands: its device, its lock and key, and whatever is kept."
    ),
    agrees="Both read the same of what stands",
)

# As a handoff is read; who answers for it was settled when the patient was taken.
TRANSFER = replace(
    HANDOFF,
    name="transfer",
    words="Transfer",
    parts=("sending nurse", "receiving nurse"),
    opens=Opens.TAKEN,
    responsible=None,
    about="A patient was taken from another unit: the two who saw to it read what runs, and it runs on.",
    meaning=(
        f"I read my part myself, {ALONE}; I agree that what runs for the patient who was taken from "
        "another unit is what is in force."
    ),
)

_OF_A_STANDING_DEVICE = tuple(
    (each.value, ()) for each in (Source.TOTALS, Source.WRISTBAND, Source.LABEL, Source.DEVICE)
)

DEVICE_CHANGE = Kind(
    name="device-change",
    words="Device or line change",
    parts=NURSES,
    opens=Opens.BEGUN,
    # The old device before the syringe is released from it, then the one that is used now.
    reads=_OF_A_STANDING_DEVICE,
    given=frozenset(Given) - {Given.SYRINGE, Given.ORDERS, Given.ISSUED},
    # The syringe stays: where it came from was judged when it was put on.
    judges=(
        *(
            each
            for each in SYRINGE_CHANGE.judges
            if each not in (JudgedBy.ISSUED, JudgedBy.LOADED_AGAIN, JudgedBy.ACCOUNT)
        ),
        JudgedBy.ON_DEVICE,
        JudgedBy.ACCOUNT,
    ),
    # As at a set-up: the line is off the patient, its free end in the hand.
    plans=(WITH_CARRIER, DEDICATED_LINE),
    entries=(BASELINE, PRIMED_VOLUME, PATIENT, TAKEN_BACK),
    end=End.CLEARED,
    ends=False,
    put_right=(Source.WRISTBAND, Source.DEVICE),
    syringe=Syringe.STAYS,
    totals=Totals.OF_ANOTHER_DEVICE,
    leads_to="",
    agrees="Label and device are as ordered",
    about="Another device or another line, the same syringe: both read the old totals before it is released.",
    meaning=(
        f"I read the totals before the change, the label, the device and the patient myself, {ALONE}; "
        "I confirmed the safety steps that stand under my name; I agree that the infusion may run on "
        "with this device and line."
    ),
    sections=SYRINGE_CHANGE.sections,
)

CLEARING = replace(
    DEVICE_CHANGE,
    name="totals-cleared",
    words="Clearing of totals",
    plans=(TOTALS_CLEARED,),
    entries=(BASELINE,),
    totals=Totals.ARE_CLEARED,
    about="The device is paused, both read its totals, and they are cleared to zero.",
    meaning=(
        "I read the totals before they were cleared, the label, the device and the patient myself, "
        f"{ALONE}; I confirmed the safety steps that stand under my name; I agree that the infusion "
        "may run on."
    ),
    sections=SETTINGS_CHANGE.sections,
)

END_OF_PCA = Kind(
    name="end-of-pca",
    words="End of PCA",
    parts=NURSES,
    opens=Opens.BEGUN,
    reads=tuple((each.value, ()) for each in (Source.WRISTBAND, Source.TOTALS)),
    given=frozenset({Given.PATIENT, Given.ACCOUNT, Given.ISSUED}),
    judges=(
        JudgedBy.ENGINE,
        JudgedBy.READ_ALIKE,
        JudgedBy.NONE_IS_AN_ANSWER,
        JudgedBy.ISSUED,
        JudgedBy.ACCOUNT,
    ),
    plans=(OFF_THE_PATIENT,),
    entries=(TAKEN_BACK,),
    end=End.DONE,
    put_right=(Source.WRISTBAND,),
    syringe=Syringe.STAYS,
    ends=True,
    leads_to="",
    about="It is over: both read what was given and what is left, and account for it.",
    meaning=(
        f"I read wristband, final totals and the volume left myself, {ALONE}; I confirmed the safety "
        "steps that stand under my name; I agree that this infusion has ended, and to its account as "
        "it is written here."
    ),
    sections=("safety_steps", "account"),
    agrees="Both read the same",
    puts_in_force=False,
)

KINDS: dict[str, Kind] = {
    each.name: each
    for each in (
        SET_UP,
        REPEAT_SET_UP,
        RE_CHECK,
        SETTINGS_CHANGE,
        SYRINGE_CHANGE,
        DEVICE_CHANGE,
        CLEARING,
        HANDOFF,
        HANDOFF_STANDING,
        TRANSFER,
        END_OF_PCA,
    )
}


def kind_named(name: str) -> Kind:
    """The kind with this name; an unknown one is a bug."""
    return KINDS[name]
