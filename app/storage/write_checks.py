"""Adding infusions, checks and what belongs to them. Nothing here changes a row that is there."""

from collections.abc import Iterable
from datetime import datetime

from sqlalchemy import bindparam, func, select

from app.people import folded
from app.records.kept import (
    Access,
    FrozenRecord,
    HelpTaker,
    JoinCode,
    KeptCheck,
    KeptComparison,
    KeptFollowed,
    KeptInfusion,
    KeptPdf,
    KeptReading,
    KeptSignature,
    Participant,
    Unit,
)
from app.records.kept_reviews import Classification, FindingReview
from app.records.kept_rows import EndedRow, FindingReached, FindingRow, SettledRow
from app.storage import review_tables, row_tables, tables, unit_tables
from app.storage.writer import LockedOutOfOrder, Writer

_RENAMED = unit_tables.unit_renamed
_TIMES_RENAMED = select(func.count()).select_from(_RENAMED).where(_RENAMED.c.unit == bindparam("unit"))


class CheckWriter(Writer):
    """Adds rows; each may raise ConstraintBroken with the name of the rule that refused it."""

    def add_infusion(self, infusion: KeptInfusion) -> None:
        """A new infusion."""
        self._add(tables.infusion, infusion)

    def add_check(self, check: KeptCheck) -> None:
        """A new check; nobody else can see its row before the commit, so only the infusion's is locked."""
        if self._holds_log_head:
            raise LockedOutOfOrder(check.id)
        self._lock_infusion(check.infusion)
        self._add(tables.check, check)
        self._held[check.id] = check

    def add_participant(self, participant: Participant) -> None:
        """A clinician takes a slot."""
        self._add_to_check(tables.participant, participant)

    def add_reading(self, reading: KeptReading) -> None:
        """A reading is handed in."""
        self._add_to_check(tables.reading, reading)

    def add_comparison(self, comparison: KeptComparison) -> None:
        """A round was compared."""
        self._add_to_check(tables.comparison, comparison)

    def add_findings(self, found: Iterable[FindingRow]) -> None:
        """What was found in a round that was compared."""
        self._add_all(row_tables.finding, found)

    def add_ended(self, ended: EndedRow) -> None:
        """A check as it ended."""
        self._add(row_tables.ended_check, ended)

    def add_settled(self, settled: Iterable[SettledRow]) -> None:
        """How each finding of a check that has ended came to rest."""
        self._add_all(row_tables.finding_settled, settled)

    def add_reached(self, states: Iterable[FindingReached]) -> None:
        """How far the review of a finding has come."""
        self._add_all(row_tables.finding_reached, states)

    def add_finding_review(self, review: FindingReview) -> None:
        """Somebody looked through a finding, gave it to somebody, or wrote something beside it."""
        self._add(review_tables.finding_review, review)

    def add_classification(self, classified: Classification) -> None:
        """A third person classified a finding."""
        self._add_to_check(review_tables.finding_classified, classified)

    def add_frozen(self, record: FrozenRecord) -> None:
        """An edition of the record was frozen."""
        self._add_to_check(tables.frozen, record)

    def add_signature(self, signature: KeptSignature) -> None:
        """A clinician signed an edition."""
        self._add_to_check(tables.signature, signature)

    def add_pdf(self, pdf: KeptPdf) -> None:
        """The PDF of an edition."""
        self._add_to_check(tables.pdf, pdf)

    def add_followed(self, followed: KeptFollowed) -> None:
        """What followed an edition."""
        self._add_to_check(tables.what_followed, followed)

    def add_help_taker(self, taker: HelpTaker) -> None:
        """A third person takes a request for help."""
        self._add_to_check(tables.help_taker, taker)

    def add_code(self, code: JoinCode) -> None:
        """A short code for joining."""
        self._add_to_check(tables.join_code, code)

    def add_unit(self, unit: Unit) -> None:
        """A ward or other unit; raises ConstraintBroken("unit_name_taken")."""
        self._insert(unit_tables.unit, {"id": unit.id, "name": unit.name, "name_folded": folded(unit.name)})

    def rename_unit(self, unit: str, name: str, at: datetime) -> None:
        """What it is called from now on, as one row more; raises ConstraintBroken("unit_name_taken")."""
        number = 1 + (self._connection.scalar(_TIMES_RENAMED, {"unit": unit}) or 0)
        row = {"unit": unit, "number": number, "name": name, "name_folded": folded(name), "named_at": at}
        self._insert(_RENAMED, row)

    def add_access(self, access: Access) -> None:
        """A look at patient data. Takes no lock: looking never waits for an act."""
        self._add(tables.access, access)
