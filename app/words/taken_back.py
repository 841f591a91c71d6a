"""What is said of a drug that was taken back, on the screens and on paper alike."""

from collections.abc import Mapping, Sequence
from typing import Any

from app.quantities import set_off
from app.records.taken_back import BROKEN, IN_LINE, IN_SYRINGE, RETURNED, SPILT, WASTED
from app.records.ward_events import DrugTakenBack

WAYS: dict[str, str] = {WASTED: "Wasted", RETURNED: "Returned to the pharmacy"}
AT_THE_END: dict[str, str] = {IN_SYRINGE: "left in the syringe"}
LOST: dict[str, str] = {SPILT: "spilt or lost", BROKEN: "in the syringe that broke"}
OUTSIDE: dict[str, str] = {
    WASTED: "All that is left is wasted",
    RETURNED: "All that is left goes back to the pharmacy",
    SPILT: "Some of it was spilt or lost",
    BROKEN: "The syringe broke",
}
HELD_IN: dict[str, str] = {IN_SYRINGE: "in the syringe that was replaced", IN_LINE: "in its line"}


_NOT_WITNESSED: dict[str, str] = {
    DrugTakenBack.NOBODY: "nobody else saw it",
    DrugTakenBack.LATE: "{} saw it more than two minutes after the first reading",
    DrugTakenBack.ELSEWHERE: "{} signed for it at another screen",
    DrugTakenBack.APART: "{} saw it, and the two do not agree how much it was",
}
NOT_WITNESSED = "NOT WITNESSED"


def kept_words(lots: Sequence[str]) -> str:
    """What to write at the end where all that was left is kept as evidence."""
    named = " and ".join(f"the syringe of lot {lot}" if lot else "a syringe without a lot" for lot in lots)
    return (
        f"All that was left is kept as evidence, in {named}: nothing of it goes. "
        "Write 0 and that lot, and a witness writes 0 too."
    )


def taken_back_words(told: Mapping[str, Any], *, witness: str, stated: str, stands: bool) -> str:
    """How much was left where, what became of it and when, and who saw it; `stated` is the time in words.

    `told` is as the event has it, and `witness` a name.
    """
    again = "" if stands else " Counts no longer: it was written anew."
    if told["held_in"] in LOST:
        lost = f"{LOST[told['held_in']]}{f' on {stated}' if stated else ''}"
        return f"{set_off(told['volume'])} {lost}: {_seen(told, witness)}. Lot {told['lot']}."
    became = f"{WAYS[told['way']].lower()}{f' on {stated}' if stated else ''}"
    place = (HELD_IN if told["syringe"].startswith("reading ") else AT_THE_END)[told["held_in"]]
    return f"{set_off(told['volume'])} {place}: {became}, {_seen(told, witness)}. Lot {told['lot']}.{again}"


def _seen(told: Mapping[str, Any], witness: str) -> str:
    first = "" if told["first"] == told["volume"] else f" (read first as {set_off(told['first'])})"
    if told["not_witnessed"]:
        return f"{NOT_WITNESSED}: {_NOT_WITNESSED[told['not_witnessed']].format(witness)}{first}"
    return f"{'taken by the pharmacist' if told['received'] else 'witnessed by'} {witness}{first}"
