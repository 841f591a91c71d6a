"""Many findings of checks that have ended, written straight into the tables; nothing of them was ever read.

A row says what a comparison and an end would have said; there are no readings and no records, and of the log
only that each check was started. What is drawn is drawn by a seed, so that anybody draws the same again.

`python -m tests.bench.many_findings ADDRESS [HOW-MANY [SEED]]` makes a database of them.
"""

import sys
import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import count, islice
from random import Random  # noqa: TID251  # drawn by a seed, so that it is drawn again
from typing import Any

from sqlalchemy import Connection, insert, text

from app.records.events import Started
from app.records.kept import FIRST, SECOND
from app.records.kept_reviews import ASSIGNED, REVIEWED
from app.records.kept_rows import EndedRow, FindingReached, FindingRow, SettledRow
from app.records.reached import Reached
from app.storage import migrate, tables
from tests.story.people import NADIA, QUILL, TOMAS, Somebody
from tests.story.ward import BEGAN
from tests.support.tampering import as_database_administrator

FINDINGS, SEED = 1_000_000, 7

UNITS = tuple(f"unit-{number}" for number in range(20))
REVIEWING_UNITS = UNITS[:4]
CODES = ("readings-differ", "device-differs", "above-soft-limit", "patient-at-risk", "syringe-short")
SEVERITIES = ("stop", "stop", "caution", "caution", "note")
# One finding in so many has these, in each of the columns that a list is filtered by.
ONE_IN = 20_000
RARE = {
    "code": "button-not-the-patients",
    "slip": "adjacent-key",
    "origin": "supply",
    "drug": "SUFentanil",
    "independence": "quick-second",
    "severity": "other",
    "settled": "exception",
}
COMMON = {
    "code": CODES[0],
    "slip": "decimal-shift",
    "origin": "reading",
    "drug": "morphine",
    "independence": "two-devices",
    "severity": "stop",
    "settled": "read again",
}
REASONS = (*("",) * 98, "as it was ordered, -as on the ward round", 'the "strong" one')
_AT_ONCE = 20_000


@dataclass(frozen=True, kw_only=True)
class Made:
    """One check that has ended, with its findings."""

    ended: EndedRow
    findings: tuple[FindingRow, ...]
    settled: tuple[SettledRow, ...]
    reached: tuple[FindingReached, ...] = ()


def made(findings: int, *, seed: int = SEED, began: datetime = BEGAN) -> Iterator[Made]:
    """Checks one after the other, every five minutes, until there are so many findings."""
    drawn, left, number = Random(seed), findings, 0  # noqa: S311  # drawn again by the same seed
    while left > 0:
        some = min(left, drawn.choice((2, 3, 4, 4)))
        yield _a_check(drawn, number, some, began + number * timedelta(minutes=5))
        left, number = left - some, number + 1


def _a_check(drawn: Random, number: int, some: int, at: datetime) -> Made:
    check, infusion, unit = (
        f"{drawn.getrandbits(128):032x}",
        f"{drawn.getrandbits(128):032x}",
        drawn.choice(UNITS),
    )
    people: dict[str, Any] = {f"pseudonym_{letter}": f"{drawn.getrandbits(5):016x}" for letter in "ab"}
    where: dict[str, Any] = {
        "check": check,
        "infusion": infusion,
        "kind": "set-up",
        "unit": unit,
        "bed": str(number % 30),
    }
    graded: dict[str, Any] = {"independence": COMMON["independence"], "earlier_look": False}
    findings = tuple(
        _a_finding(
            drawn,
            FindingRow(
                **where,
                **graded,
                **people,
                subject="sources",
                round=1,
                number=place,
                drug=COMMON["drug"],
                compared_at=at,
                severity="stop",
                code="",
                field="demand_dose",
                about="",
                clinician="",
                group="",
                origin=COMMON["origin"],
                slip="",
                factor="",
                repeated=False,
            ),
        )
        for place in range(1, some + 1)
    )
    ended = EndedRow(
        **where,
        **graded,
        **people,
        drug=COMMON["drug"],
        device=f"SN{drawn.getrandbits(6):04}",
        opened_at=at - timedelta(minutes=6),
        joined_at=at - timedelta(minutes=5),
        compared_at=at,
        cleared_at=at + timedelta(minutes=9),
        started_at=at + timedelta(minutes=11),
        ended_at=at + timedelta(minutes=11),
        how="started",
        reason="",
        was_lapsed=False,
        rounds=2,
        rounds_voided=0,
        rereadings=1,
        stops=sum(each.severity == "stop" for each in findings),
        cautions=sum(each.severity == "caution" for each in findings),
        notes=sum(each.severity == "note" for each in findings),
        exceptions=0,
        escalated=0,
        account="cautioned",
        account_left="12",
        # Of some a cell begins like a formula.
        account_difference="0" if number % 30 else "-1/7",
        edition=1,
        format="countersign.record/2",
        invented=True,
        engine="1",
        policy="1",
        library="1",
        patient=f"{number // 2:016x}",
    )
    return Made(
        ended=ended,
        findings=findings,
        settled=tuple(_how(drawn, each) for each in findings),
        reached=tuple(state for each in findings for state in _reached(drawn, each)),
    )


def _a_finding(drawn: Random, row: FindingRow) -> FindingRow:
    kind = drawn.randrange(len(CODES))
    said: dict[str, Any] = {
        "code": CODES[kind],
        "severity": SEVERITIES[kind],
        "slip": drawn.choice(("", "", "", COMMON["slip"])),
    }
    rare: dict[str, Any] = {
        name: value for name, value in RARE.items() if name != "settled" and not drawn.randrange(ONE_IN)
    }
    return replace(row, **{**said, **rare})


def _how(drawn: Random, row: FindingRow) -> SettledRow:
    settled = COMMON["settled"] if drawn.randrange(ONE_IN) else RARE["settled"]
    return SettledRow(
        check=row.check,
        subject=row.subject,
        round=row.round,
        number=row.number,
        unit=row.unit,
        compared_at=row.compared_at,
        settled=settled,
        settled_at=row.compared_at + timedelta(minutes=3),
        settled_in_round=2,
        settled_by="A",
        settled_outcome="",
        seconds_to_settle=180,
        reason_a=drawn.choice(REASONS),
        reason_b="",
    )


def _reached(drawn: Random, row: FindingRow) -> Iterator[FindingReached]:
    """On some units nearly all is reviewed, on the others nearly nothing; few are classified.

    Of what is reviewed one in ten was given to somebody.
    """
    states = []
    if bool(drawn.randrange(ONE_IN)) == (row.unit in REVIEWING_UNITS):
        states.append((Reached.REVIEWED, ""))
        if not drawn.randrange(10):
            states += [(Reached.GIVEN, ""), (Reached.GIVEN_TO, QUILL.id)]
    if not drawn.randrange(ONE_IN):
        states.append((Reached.CLASSIFIED, ""))
    for state, person in states:
        yield FindingReached(
            **{name: getattr(row, name) for name in ("check", "subject", "round", "number")},
            state=state.value,
            person=person,
            unit=row.unit,
            compared_at=row.compared_at,
        )


def fill(connection: Connection, findings: int, seed: int = SEED) -> None:
    """Write so many down, with the rows that they belong to."""
    write(connection, made(findings, seed=seed))


def write(
    connection: Connection,
    checks: Iterator[Made],
    *,
    people: Iterable[Somebody] = (NADIA, TOMAS, QUILL),
    position: int = 1,
) -> None:
    """Write checks of the same two down; through a connection that no trigger hinders."""
    connection.execute(insert(tables.person), [_person(each) for each in people])
    while some := tuple(islice(checks, _AT_ONCE)):
        for table, rows in _rows(some, position).items():
            if rows:
                connection.execute(insert(tables.metadata.tables[table]), rows)
        position += len(some)
    if connection.dialect.name == "postgresql":
        # As a server does by itself, and those of the tests do not; SQLite does not at all.
        connection.commit()
        connection.execution_options(isolation_level="AUTOCOMMIT").execute(text("VACUUM ANALYZE"))


def _person(who: Somebody) -> dict[str, Any]:
    return {
        "id": who.id,
        "login": who.login,
        "login_folded": who.login,
        "staff_number": who.id,
        "staff_number_folded": who.id,
        "printed_name": who.printed_name,
        "unit": who.unit,
        "active": True,
    }


def _rows(some: tuple[Made, ...], position: int) -> dict[str, list[dict[str, Any]]]:
    return {
        "infusion": [_place(each.ended, "infusion") for each in some],
        "check": [
            {
                **_place(each.ended, "check"),
                "infusion": each.ended.infusion,
                "kind": each.ended.kind,
                "opened_by": NADIA.id,
            }
            for each in some
        ],
        "participant": [
            {"check": each.ended.check, "slot": slot, "person": who.id, "joined_at": each.ended.joined_at}
            for each in some
            for slot, who in ((FIRST, NADIA), (SECOND, TOMAS))
        ],
        "log_entry": [
            {
                "position": place,
                "at": each.ended.started_at,
                "by": NADIA.id,
                "infusion": each.ended.infusion,
                "check": each.ended.check,
                "session": "",
                "device": "",
                "kind": Started.kind,
                "canonical": b"{}",
            }
            for place, each in enumerate(some, position)
        ],
        "comparison": [
            {
                "check": each.ended.check,
                "subject": "sources",
                "round": 1,
                "at": each.ended.compared_at,
                "engine": "1",
                "case": b"{}",
                "result": b"{}",
            }
            for each in some
        ],
        "finding": [vars(row) for each in some for row in each.findings],
        "ended_check": [vars(each.ended) for each in some],
        "finding_settled": [vars(row) for each in some for row in each.settled],
        "finding_reached": [vars(row) for each in some for row in each.reached],
        "finding_review": [row for each in some for state in each.reached for row in _reviews(state)],
    }


_POSITIONS = count(1)


def _reviews(state: FindingReached) -> Iterator[dict[str, Any]]:
    """What was given to somebody they have reviewed since, but for few."""
    if state.state != Reached.GIVEN_TO:
        return
    where = {name: getattr(state, name) for name in ("check", "subject", "round", "number")}
    for what, to in ((ASSIGNED, state.person), (REVIEWED, None)):
        position = next(_POSITIONS)
        if what == ASSIGNED or position % ONE_IN:
            at, by = state.compared_at + timedelta(days=1), NADIA.id
            yield {**where, "position": position, "what": what, "at": at, "person": by, "text": ""} | {
                "assigned_to": to
            }


def _place(ended: EndedRow, what: str) -> dict[str, Any]:
    return {"id": getattr(ended, what), "unit": ended.unit, "bed": ended.bed, "opened_at": ended.opened_at}


def main() -> None:
    """Make the database, and say how long it took."""
    address, *more = sys.argv[1:]
    findings, seed = (*map(int, more), *(FINDINGS, SEED)[len(more) :])
    begun = time.perf_counter()
    migrate(address)
    with as_database_administrator(address) as connection:
        fill(connection, findings, seed)
    print(f"{findings:,} findings written in {time.perf_counter() - begun:.0f} s")


if __name__ == "__main__":
    main()
