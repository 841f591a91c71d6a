"""The words of what is due of an infusion."""

from collections.abc import Mapping

from app.records.due import DueThing

# What is to be done, as it stands before `by 14:10` and after `Due:` or `Overdue:`.
DUE: Mapping[DueThing, str] = {
    DueThing.BLIND_CHECK: "two nurses check it, blind",
    DueThing.LINE: "let the line run on",
    DueThing.LOWERED: "two nurses make a settings change, as it was lowered for safety",
    DueThing.BREAK: "the nurse who is on a break comes back, or hands over",
    DueThing.TRANSFER: "check due: two nurses read what was taken from another unit",
    DueThing.OBSERVATION: "observe the patient, sedation first, and write it in the chart",
}


def due_words(what: DueThing) -> str:
    """What is to be done."""
    return DUE[what]
