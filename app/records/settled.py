"""How a finding came to rest: one rule for the list of findings, the record and the export."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any

from app.records.followup import Found, Severity, findings_in, sources_of


class How(StrEnum):
    """The ways in which a finding comes to rest."""

    EXCEPTION = "exception"
    FOR_INFORMATION = "for information"
    ACKNOWLEDGED = "acknowledged"
    PUT_RIGHT = "put right"
    READ_AGAIN = "read again"
    NOT_SETTLED = "not settled"


@dataclass(frozen=True, kw_only=True)
class Later:
    """A later compared round: the sources put right before it, and what was still found in it.

    `outcome` is that of the request for help which had it read, blank where one of the two had.
    """

    round: int
    at: datetime
    touched: frozenset[str]
    keys: frozenset[str]
    outcome: str = ""
    # The fields of which readings differed or were missing.
    apart: frozenset[str] = frozenset()

    def still_has(self, found: Found) -> bool:
        """Whether a finding had not gone: itself, or other readings of its field that still do not agree."""
        return found.key in self.keys or (found.reads_apart and found.field in self.apart)


def later_round(
    number: int, at: datetime, *, touched: Iterable[str], findings: Iterable[Found], outcome: str = ""
) -> Later:
    """What a later round says of the findings of an earlier one."""
    found = tuple(findings)
    return Later(
        round=number,
        at=at,
        touched=frozenset(touched),
        keys=frozenset(each.key for each in found),
        apart=frozenset(each.field for each in found if each.reads_apart),
        outcome=outcome,
    )


@dataclass(frozen=True, kw_only=True)
class Settled:
    """How and when a finding came to rest; `round` is the one that no longer had it, or None.

    `outcome` is how a third person settled it, where the two had asked for help.
    """

    how: How
    at: datetime | None = None
    round: int | None = None
    outcome: str = ""


_BOTH = 2


def settle(
    found: Found, *, exempt: datetime | None, acknowledged: Iterable[datetime], later: Iterable[Later]
) -> Settled:
    """How one finding came to rest; `acknowledged` has one time for each of the two, `later` is in order."""
    if exempt is not None:
        return Settled(how=How.EXCEPTION, at=exempt)
    if found.severity == Severity.NOTE:
        return Settled(how=How.FOR_INFORMATION)
    times = tuple(acknowledged)
    if len(times) >= _BOTH:
        return Settled(how=How.ACKNOWLEDGED, at=max(times))
    gone = next((each for each in later if not each.still_has(found)), None)
    if gone is None:
        return Settled(how=How.NOT_SETTLED)
    # What was corrected elsewhere at the same time did not put this right.
    about = frozenset(sources_of(found)) or gone.touched
    return Settled(
        how=How.PUT_RIGHT if gone.touched & about else How.READ_AGAIN,
        at=gone.at,
        round=gone.round,
        outcome=gone.outcome,
    )


def settle_in(document: Mapping[str, Any], number: int, found: Found) -> Settled:
    """How a finding of one round of a canonical record came to rest."""
    exempt = next((each["at"] for each in document["exceptions"] if each["finding"] == found.key), None)
    acknowledged = {
        each["clinician"]: datetime.fromisoformat(each["at"])
        for each in document["acknowledgements"]
        if each["finding"] == found.key
    }
    return settle(
        found,
        exempt=None if exempt is None else datetime.fromisoformat(exempt),
        acknowledged=acknowledged.values(),
        later=[
            _later(each) for each in document["rounds"] if each["round"] > number and "comparison" in each
        ],
    )


def findings_of(round_: Mapping[str, Any]) -> tuple[Found, ...]:
    """The findings of one round of a canonical record; none where it was never compared."""
    return findings_in(round_["comparison"]) if "comparison" in round_ else ()


def _later(round_: Mapping[str, Any]) -> Later:
    return later_round(
        round_["round"],
        datetime.fromisoformat(round_["compared_at"]),
        touched=round_["touched"],
        findings=findings_of(round_),
        outcome=round_.get("outcome", ""),
    )
