"""What is said of a syringe that was issued, and of what became of it."""

from collections.abc import Mapping
from typing import Any

from app.quantities import set_off
from app.records.issue_events import IssueSettled
from app.records.issued import PHARMACY, STORE

FROM: dict[str, str] = {PHARMACY: "From the pharmacy", STORE: "From the ward's locked store"}
SEALED: dict[str, str] = {"yes": "Unbroken", "no": "Broken"}

_SETTLED: dict[str, str] = {
    IssueSettled.PUT_ON: "A syringe that was issued was put on the device.",
    IssueSettled.RETURNED: "A syringe that was issued went back unopened, and a pharmacist signed for it.",
    IssueSettled.NOT_RECEIVED: "A syringe that was issued is not here any more, and NOBODY SIGNED FOR IT.",
    IssueSettled.CLOSED: "A syringe that was issued was not found: it was closed with the account.",
}


def issued_words(data: Mapping[str, Any]) -> str:
    """From where, from whom to whom, its number, volume and seal."""
    seal = "seal unbroken" if data["sealed"] else "SEAL BROKEN"
    return (
        f"A syringe was issued {FROM[data['source']].lower()}: {data['giver']} to {data['receiver']}. "
        f"Number {data['number']}, {set_off(data['volume'])}, {seal}."
    )


def settled_words(data: Mapping[str, Any]) -> str:
    """What became of one."""
    return _SETTLED[data["how"]]
