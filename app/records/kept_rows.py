"""Findings and ended checks as flat rows, for whoever lists, counts or exports them.

Each is the fold's truth, written down when it came to stand, and made again from the log at any time. A
clinician stands as A or B and by a pseudonym, which is the same in every row and tells no name. Of what was
read a row names drug and device, and no value.
"""

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, kw_only=True)
class FindingRow:
    """One finding of one compared round, the `number`th of it; written with the comparison.

    Of a primed volume, by its `subject`, `round` is which judgement it was, and `independence` is blank, for
    one read it. `repeated`: a round before had it already. `drug` is the one that was read, blank where that
    is not clear.
    """

    check: str
    subject: str
    round: int
    number: int
    infusion: str
    unit: str
    bed: str
    kind: str
    drug: str
    compared_at: datetime
    severity: str
    code: str
    field: str
    about: str
    clinician: str
    group: str
    origin: str
    slip: str
    factor: str
    repeated: bool
    independence: str
    earlier_look: bool
    pseudonym_a: str
    pseudonym_b: str


@dataclass(frozen=True, kw_only=True)
class SettledRow:
    """How one of them came to rest; written when its check ends, so that what has none is in no list.

    `settled_by` are the letters of those who acknowledged it, or had it read again; `settled_outcome` is how
    a third person settled it, where the two had asked for help.
    """

    check: str
    subject: str
    round: int
    number: int
    unit: str
    compared_at: datetime
    settled: str
    settled_at: datetime | None
    settled_in_round: int
    settled_by: str
    settled_outcome: str
    seconds_to_settle: int | None
    reason_a: str
    reason_b: str


@dataclass(frozen=True, kw_only=True)
class FindingReached:
    """A state that the review of one of them has reached (`reached`); written with that act.

    `person` is to whom it was given, and blank of any other state.
    """

    check: str
    subject: str
    round: int
    number: int
    state: str
    person: str
    unit: str
    compared_at: datetime


@dataclass(frozen=True, kw_only=True)
class EndedRow:
    """One check that has ended; written by the act that ends it.

    `how` is the phase that it ended in, `reason` why it was abandoned or to which kind it led. `cleared_at`
    is when both had signed last, whatever became of that. Stops, cautions and notes count what was found in
    any round, each once. `account` is what the account came to, with what it has left and its difference.
    `patient` is the pseudonym of the one whose wristband was read; blank where none was, or not alike.
    `device` is the serial number that both read alike on the infusion device; blank where it is not so.
    """

    check: str
    infusion: str
    patient: str
    kind: str
    unit: str
    bed: str
    drug: str
    device: str
    opened_at: datetime
    joined_at: datetime | None
    compared_at: datetime | None
    cleared_at: datetime | None
    started_at: datetime | None
    ended_at: datetime
    how: str
    reason: str
    was_lapsed: bool
    rounds: int
    rounds_voided: int
    rereadings: int
    stops: int
    cautions: int
    notes: int
    exceptions: int
    escalated: int
    independence: str
    earlier_look: bool
    account: str
    account_left: str
    account_difference: str
    edition: int
    format: str
    invented: bool
    engine: str
    policy: str
    library: str
    pseudonym_a: str
    pseudonym_b: str


@dataclass(frozen=True, kw_only=True)
class RowsOfCheck:
    """All of them that one check has; `ended` is None, and nothing settled, while it goes on."""

    findings: tuple[FindingRow, ...]
    settled: tuple[SettledRow, ...] = ()
    ended: EndedRow | None = None


def place_of(row: FindingRow | SettledRow | FindingReached) -> tuple[str, str, int, int]:
    """Of which finding it tells."""
    return row.check, row.subject, row.round, row.number


def lacking(kept: RowsOfCheck, made: RowsOfCheck) -> RowsOfCheck:
    """The rows that should be there, and in whose place nothing is."""
    findings, settled = ({place_of(each) for each in some} for some in (kept.findings, kept.settled))
    return RowsOfCheck(
        findings=tuple(each for each in made.findings if place_of(each) not in findings),
        settled=tuple(each for each in made.settled if place_of(each) not in settled),
        ended=made.ended if kept.ended is None else None,
    )


def are_as_made(kept: RowsOfCheck, made: RowsOfCheck) -> bool:
    """Whether each row that is there is one that should be."""
    return (
        {*kept.findings} <= {*made.findings}
        and {*kept.settled} <= {*made.settled}
        and kept.ended in {None, made.ended}
    )
