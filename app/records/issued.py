"""The syringes that were issued for an infusion, and which of them are out: neither put on nor given back."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from app.quantities import Dimension, Fault, exact, parse_quantity
from app.records.issue_events import IssueSettled, SyringeIssued
from app.records.kept import Entry

PHARMACY, STORE = SOURCES = ("pharmacy", "store")
"""From where a syringe comes: the pharmacy, or the ward's locked store."""


@dataclass(frozen=True, kw_only=True)
class Issued:
    """One of them; `settled` says what became of it, and is blank while it is out."""

    position: int
    at: datetime
    event: SyringeIssued
    settled: str = ""
    infusion: str = ""

    @property
    def is_out(self) -> bool:
        """Whether it is neither put on nor given back."""
        return not self.settled

    def as_known(self, *, here: bool) -> dict[str, Any]:
        """As the judge of a check is told of it; `here`: it is of the check's own infusion."""
        return {
            "issue": str(self.position),
            "number": self.event.number,
            "volume": self.event.exact,
            "sealed": self.event.sealed,
            "out": self.is_out,
            "here": here,
        }


def issued_in(log: Iterable[Entry]) -> tuple[Issued, ...]:
    """All that the entries of an infusion tell of, in the order of issue."""
    told = tuple(log)
    settled = {each.event.issue: each.event.how for each in told if isinstance(each.event, IssueSettled)}
    return tuple(
        Issued(
            position=each.position,
            at=each.at,
            event=each.event,
            settled=settled.get(str(each.position), ""),
            infusion=each.infusion,
        )
        for each in told
        if isinstance(each.event, SyringeIssued)
    )


def out_of(issued: Iterable[Issued]) -> tuple[Issued, ...]:
    """Those that are out."""
    return tuple(each for each in issued if each.is_out)


def put_on_as(log: Iterable[Entry]) -> dict[tuple[str, int], Entry]:
    """The entries that issued what was put on, by the check and the reading of its label."""
    told = tuple(log)
    issues = {str(each.position): each for each in told if isinstance(each.event, SyringeIssued)}
    return {
        (each.check, each.event.round): issues[each.event.issue]
        for each in told
        if isinstance(each.event, IssueSettled) and each.event.how == IssueSettled.PUT_ON
    }


def in_millilitres(text: str) -> str:
    """A volume that was read or written before, in mL and exact; blank where none was."""
    read = parse_quantity(text, Dimension.VOLUME) if text else None
    return "" if read is None or isinstance(read, Fault) else f"{exact(read.value)} mL"
