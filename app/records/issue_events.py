"""A syringe comes to a bed, before anybody has read its label for a check: the account opens with it."""

from dataclasses import dataclass
from typing import ClassVar

from app.records.events import Event


@dataclass(frozen=True, kw_only=True)
class SyringeIssued(Event):
    """A syringe was issued for an infusion: from where, from whom to whom, under which number, with its seal.

    `number` is the serial or the lot on its label, `volume` what its label says, as it was typed, and `exact`
    the same in mL.
    """

    kind: ClassVar[str] = "syringe-issued"
    source: str
    giver: str
    receiver: str
    number: str
    volume: str
    exact: str
    sealed: bool


@dataclass(frozen=True, kw_only=True)
class IssueSettled(Event):
    """What became of a syringe that was issued; `issue` is the position of the entry that says so.

    `round` is the reading in which its label was read last, where it was put on; `receiver` is the pharmacist
    who took it back.
    """

    # How: it was put on the device, or goes back unopened, to somebody who signs for it or to nobody; or the
    # charge nurse closed the account with it.
    PUT_ON: ClassVar[str] = "put-on"
    RETURNED: ClassVar[str] = "returned"
    NOT_RECEIVED: ClassVar[str] = "not-received"
    CLOSED: ClassVar[str] = "closed"

    kind: ClassVar[str] = "issue-settled"
    issue: str
    how: str
    round: int = 0
    receiver: str = ""
