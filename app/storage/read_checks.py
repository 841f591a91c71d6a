"""Reading infusions, checks and what belongs to one check."""

from sqlalchemy import Connection, select

from app.records.kept import (
    FrozenRecord,
    HelpTaker,
    JoinCode,
    KeptCheck,
    KeptComparison,
    KeptInfusion,
    KeptPdf,
    KeptReading,
    KeptSignature,
    Participant,
)
from app.storage import tables
from app.storage.rows import find_one, read_all

# A check with one of these in the log is no longer open.
ENDING_KINDS = ("abandoned", "started")


class CheckReader:
    """Everything about one check that is not in the log."""

    _connection: Connection

    def find_infusion(self, infusion: str) -> KeptInfusion | None:
        """The infusion with this id."""
        table = tables.infusion
        return find_one(self._connection, KeptInfusion, select(table).where(table.c.id == infusion))

    def infusions_at(self, unit: str, bed: str) -> tuple[KeptInfusion, ...]:
        """Every infusion opened at a bed, the newest first."""
        table = tables.infusion
        here = select(table).where(table.c.unit == unit, table.c.bed == bed)
        return read_all(
            self._connection, KeptInfusion, here.order_by(table.c.opened_at.desc(), table.c.id.desc())
        )

    def find_check(self, check: str) -> KeptCheck | None:
        """The check with this id."""
        table = tables.check
        return find_one(self._connection, KeptCheck, select(table).where(table.c.id == check))

    def checks_of_infusion(self, infusion: str) -> tuple[KeptCheck, ...]:
        """The checks of an infusion in the order in which they were opened."""
        table = tables.check
        its = select(table).where(table.c.infusion == infusion)
        return read_all(self._connection, KeptCheck, its.order_by(table.c.opened_at, table.c.id))

    def checks_of_unit(self, unit: str, *, limit: int) -> tuple[KeptCheck, ...]:
        """The newest checks of a unit, the newest first."""
        table = tables.check
        its = select(table).where(table.c.unit == unit)
        newest = its.order_by(table.c.opened_at.desc(), table.c.id.desc()).limit(limit)
        return read_all(self._connection, KeptCheck, newest)

    def open_checks(self, unit: str) -> tuple[KeptCheck, ...]:
        """The unit's checks that were neither abandoned nor started, the first opened first."""
        table, log = tables.check, tables.log_entry
        ended = select(log.c.position).where(log.c.check == table.c.id, log.c.kind.in_(ENDING_KINDS)).exists()
        its = select(table).where(table.c.unit == unit, ~ended)
        return read_all(self._connection, KeptCheck, its.order_by(table.c.opened_at, table.c.id))

    def checks_of_person(self, person: str, *, limit: int) -> tuple[KeptCheck, ...]:
        """The newest checks in which a person holds a slot, the newest first."""
        table, joined = tables.check, tables.participant
        theirs = select(table).join(joined, joined.c.check == table.c.id).where(joined.c.person == person)
        newest = theirs.order_by(table.c.opened_at.desc(), table.c.id.desc()).limit(limit)
        return read_all(self._connection, KeptCheck, newest)

    def open_checks_of_person(self, person: str, *, infusion: str = "") -> tuple[KeptCheck, ...]:
        """Where a person holds a slot and none was abandoned or started; of one infusion, if it is named."""
        table, joined, log = tables.check, tables.participant, tables.log_entry
        ended = select(log.c.position).where(log.c.check == table.c.id, log.c.kind.in_(ENDING_KINDS)).exists()
        theirs = select(table).join(joined, joined.c.check == table.c.id)
        theirs = theirs.where(joined.c.person == person, ~ended)
        if infusion:
            theirs = theirs.where(table.c.infusion == infusion)
        return read_all(self._connection, KeptCheck, theirs.order_by(table.c.opened_at, table.c.id))

    def participants(self, check: str) -> tuple[Participant, ...]:
        """Who holds which slot, by slot."""
        table = tables.participant
        its = select(table).where(table.c.check == check).order_by(table.c.slot)
        return read_all(self._connection, Participant, its)

    def readings(self, check: str) -> tuple[KeptReading, ...]:
        """Every handed-in reading, by round, subject and slot."""
        table = tables.reading
        its = select(table).where(table.c.check == check)
        ordered = its.order_by(table.c.round, table.c.subject, table.c.slot)
        return read_all(self._connection, KeptReading, ordered)

    def find_reading(self, check: str, subject: str, round: int, slot: int) -> KeptReading | None:  # noqa: A002  # the ward's word
        """The reading that the holder of a slot handed in."""
        table = tables.reading
        wanted = select(table).where(
            table.c.check == check, table.c.subject == subject, table.c.round == round, table.c.slot == slot
        )
        return find_one(self._connection, KeptReading, wanted)

    def comparisons(self, check: str) -> tuple[KeptComparison, ...]:
        """Every comparison, by round and subject."""
        table = tables.comparison
        its = select(table).where(table.c.check == check).order_by(table.c.round, table.c.subject)
        return read_all(self._connection, KeptComparison, its)

    def find_comparison(self, check: str, subject: str, round: int) -> KeptComparison | None:  # noqa: A002  # the ward's word
        """The comparison of a round."""
        table = tables.comparison
        wanted = select(table).where(
            table.c.check == check, table.c.subject == subject, table.c.round == round
        )
        return find_one(self._connection, KeptComparison, wanted)

    def frozen_records(self, check: str) -> tuple[FrozenRecord, ...]:
        """Every edition of the record, the first first."""
        table = tables.frozen
        its = select(table).where(table.c.check == check).order_by(table.c.edition)
        return read_all(self._connection, FrozenRecord, its)

    def signatures(self, check: str) -> tuple[KeptSignature, ...]:
        """Every signature, by edition and slot."""
        table = tables.signature
        its = select(table).where(table.c.check == check).order_by(table.c.edition, table.c.slot)
        return read_all(self._connection, KeptSignature, its)

    def find_pdf(self, check: str, edition: int) -> KeptPdf | None:
        """The PDF of an edition."""
        table = tables.pdf
        wanted = select(table).where(table.c.check == check, table.c.edition == edition)
        return find_one(self._connection, KeptPdf, wanted)

    def pdf_editions(self, check: str) -> tuple[int, ...]:
        """The editions whose PDF is stored, without reading the PDFs."""
        table = tables.pdf
        its = select(table.c.edition).where(table.c.check == check).order_by(table.c.edition)
        return tuple(self._connection.scalars(its))

    def help_takers(self, check: str) -> tuple[HelpTaker, ...]:
        """Who took which request for help, the first first."""
        table = tables.help_taker
        its = select(table).where(table.c.check == check).order_by(table.c.taken_at, table.c.help)
        return read_all(self._connection, HelpTaker, its)

    def find_code(self, digest: str) -> JoinCode | None:
        """The joining code with this digest; of several, over the years, the one that expires last."""
        table = tables.join_code
        newest = select(table).where(table.c.digest == digest).order_by(table.c.expires_at.desc()).limit(1)
        return find_one(self._connection, JoinCode, newest)
