"""Checks of many months as flat rows alone, for lists and counts: nobody played them, no value is in them."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from fractions import Fraction

from app.records.followup import Severity
from app.review.draws import Draws
from app.storage import Store, Transaction
from tests.storage.builders import check, comparison, infusion, participant, reading
from tests.storage.row_builders import classified, ended, finding, settled

# Code, field and slip.
STOPS = (
    ("readings-differ", "demand_dose", "decimal-shift"),
    ("device-differs", "lockout", "neighbour-key"),
    ("label-differs", "concentration", ""),
)
ODD_DEVICE = "SN0007"
CAUTIONS = ("patient-at-risk", "limit-required")


@dataclass(frozen=True, kw_only=True)
class Found:
    """One finding of a check, and how it came to rest."""

    code: str
    severity: str = Severity.STOP
    field: str = "demand_dose"
    slip: str = ""
    settled: str = "read again"
    seconds: int | None = 120


@dataclass(frozen=True, kw_only=True)
class Past:
    """A check that is over, unless `open`: then only what it found is there."""

    id: str
    at: datetime
    unit: str
    people: tuple[str, str]
    found: tuple[Found, ...] = ()
    open: bool = False
    bed: str = "12"
    case: bytes = b'{"case":1}'
    row: dict[str, object] = field(default_factory=dict)


def add_past(tx: Transaction, past: Past) -> None:
    """One check with its rows."""
    at, where = past.at, {"check": past.id}
    tx.add_infusion(infusion(id=f"infusion of {past.id}", unit=past.unit, bed=past.bed, opened_at=at))
    of = {"infusion": f"infusion of {past.id}", "unit": past.unit, "bed": past.bed}
    tx.add_check(check(id=past.id, opened_by=past.people[0], opened_at=at, **of))
    for slot, person in enumerate(past.people, 1):
        tx.add_participant(participant(slot, person=person, joined_at=at, **where))
    if past.found:
        for slot, person in enumerate(past.people, 1):
            tx.add_reading(reading(slot, person=person, session=f"{past.id} {slot}", **where))
        tx.add_comparison(comparison(at=at, case=past.case, **where))
    places = list(enumerate(past.found, 1))
    tx.add_findings(
        finding(
            number=number,
            compared_at=at,
            code=each.code,
            severity=each.severity,
            field=each.field,
            slip=each.slip,
            **where,
            **of,
        )
        for number, each in places
    )
    if past.open:
        return
    count = {f"{each}s": sum(one.severity == each for _, one in places) for each in Severity}
    row = {"opened_at": at - timedelta(minutes=9), "compared_at": at, "cleared_at": at + timedelta(minutes=6)}
    row |= {"started_at": at + timedelta(minutes=8), "ended_at": at + timedelta(minutes=8)}
    tx.add_ended(ended(**where, **of, **{**row, **count, **past.row}))
    tx.add_settled(
        settled(
            number=number,
            unit=past.unit,
            compared_at=at,
            settled=each.settled,
            seconds_to_settle=each.seconds,
            **where,
        )
        for number, each in places
    )


def add_said(tx: Transaction, check: str, *said: tuple[str, str, str], number: int = 1) -> None:
    """What people said one after the other of a finding: who, the category, and who misread it."""
    for place, (person, category, readers) in enumerate(said, 1):
        tx.add_classification(
            classified(
                check=check, number=number, place=place, person=person, category=category, readers=readers
            )
        )


def add_all(store: Store, pasts: Iterable[Past]) -> None:
    """Several of them, in one transaction."""
    with store.write() as tx:
        for each in pasts:
            add_past(tx, each)


def months_of_checks(last: datetime, unit: str, people: tuple[str, str], *, months: int) -> list[Past]:
    """Some twenty checks a month, of which one in eight was stopped; always the same."""
    draws, pasts = Draws(f"months of {unit}"), list[Past]()
    for number in range(months * 20):
        at = last - timedelta(days=31 * months * (months * 20 - number) / (months * 20))
        found: list[Found] = []
        if draws.happens(Fraction(1, 8)):
            code, of, slip = draws.one_of(STOPS)
            found.append(Found(code=code, field=of, slip=slip, seconds=60 + draws.below(900)))
        if draws.happens(Fraction(1, 3)):
            found.append(
                Found(code=draws.one_of(CAUTIONS), severity=Severity.CAUTION, settled="acknowledged")
            )
        row: dict[str, object] = {"cleared_at": at + timedelta(minutes=3 + draws.below(20))}
        if draws.happens(Fraction(1, 4)):
            device = f"SN{draws.below(10):04}"
            bad = draws.happens(Fraction(1, 2 if device == ODD_DEVICE else 12))
            row |= {
                "kind": "end-of-pca",
                "how": "done",
                "device": device,
                "account": "stopped" if bad else "agreed",
                "account_left": "12",
                "account_difference": "2.4" if bad else draws.one_of(("-0.3", "0.2", "1/7")),
            }
        grades = ("two-devices", "one-after-the-other", "one-device")
        row |= {"independence": draws.one_of(grades), "earlier_look": draws.happens(Fraction(1, 9))}
        pasts.append(
            Past(id=f"{unit} {number}", at=at, unit=unit, people=people, found=tuple(found), row=row)
        )
    return pasts
