"""Reading infusions, checks and what belongs to one check."""

from sqlalchemy import Connection, bindparam, select

from app.records.kept import (
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
)
from app.storage import tables
from app.storage.places import AT_BED, EVER_AT_BED, LAST_TO_COME_FIRST, at, placed, select_placed
from app.storage.rows import find_one, found, read_all, rows_by

_CHECK, _INFUSION, _JOINED = tables.check, tables.infusion, tables.participant
_BY_OPENING = (_CHECK.c.opened_at, _CHECK.c.id)
_OF_INFUSION = rows_by(_CHECK, "infusion").order_by(*_BY_OPENING)

_FIND_INFUSION = select_placed().where(_INFUSION.c.id == bindparam("id"))
_AT_BED = select_placed().where(AT_BED).order_by(*LAST_TO_COME_FIRST)
_EVER_AT_BED = select_placed().where(EVER_AT_BED).order_by(*LAST_TO_COME_FIRST)
_FIND_CHECK = rows_by(_CHECK, "id")
_PARTICIPANTS = rows_by(_JOINED, "check").order_by(_JOINED.c.slot)
_READINGS = rows_by(tables.reading, "check").order_by(
    tables.reading.c.round, tables.reading.c.subject, tables.reading.c.slot
)
_FIND_READING = rows_by(tables.reading, "check", "subject", "round", "slot")
_COMPARISONS = rows_by(tables.comparison, "check").order_by(
    tables.comparison.c.round, tables.comparison.c.subject
)
_FROZEN = rows_by(tables.frozen, "check").order_by(tables.frozen.c.edition)
_SIGNATURES = rows_by(tables.signature, "check").order_by(tables.signature.c.edition, tables.signature.c.slot)
_FIND_PDF = rows_by(tables.pdf, "check", "edition")
_PDF_EDITIONS = (
    select(tables.pdf.c.edition)
    .where(tables.pdf.c.check == bindparam("check"))
    .order_by(tables.pdf.c.edition)
)
_FOLLOWED = rows_by(tables.what_followed, "check").order_by(tables.what_followed.c.edition)
_HELP_TAKERS = rows_by(tables.help_taker, "check").order_by(
    tables.help_taker.c.taken_at, tables.help_taker.c.help, tables.help_taker.c.turn
)
_FIND_CODE = rows_by(tables.join_code, "digest").order_by(tables.join_code.c.expires_at.desc()).limit(1)


class CheckReader:
    """Everything about one check that is not in the log."""

    _connection: Connection

    def find_infusion(self, infusion: str) -> KeptInfusion | None:
        """The infusion with this id."""
        row = next(found(self._connection, _FIND_INFUSION, id=infusion), None)
        return None if row is None else placed(row)

    def infusions_at(self, unit: str, bed: str) -> tuple[KeptInfusion, ...]:
        """Every infusion that was opened at a bed or moved to it, and not away: what came last first."""
        return tuple(map(placed, found(self._connection, _AT_BED, **at(unit, bed))))

    def infusions_ever_at(self, unit: str, bed: str) -> tuple[KeptInfusion, ...]:
        """The same with those that were moved away."""
        return tuple(map(placed, found(self._connection, _EVER_AT_BED, **at(unit, bed))))

    def find_check(self, check: str) -> KeptCheck | None:
        """The check with this id."""
        return find_one(self._connection, KeptCheck, _FIND_CHECK, id=check)

    def checks_of_infusion(self, infusion: str) -> tuple[KeptCheck, ...]:
        """The checks of an infusion in the order in which they were opened."""
        return read_all(self._connection, KeptCheck, _OF_INFUSION, infusion=infusion)

    def participants(self, check: str) -> tuple[Participant, ...]:
        """Who holds which slot, by slot."""
        return read_all(self._connection, Participant, _PARTICIPANTS, check=check)

    def readings(self, check: str) -> tuple[KeptReading, ...]:
        """Every handed-in reading, by round, subject and slot."""
        return read_all(self._connection, KeptReading, _READINGS, check=check)

    def find_reading(self, check: str, subject: str, round: int, slot: int) -> KeptReading | None:  # noqa: A002  # the ward's word
        """The reading that the holder of a slot handed in."""
        named = {"check": check, "subject": subject, "round": round, "slot": slot}
        return find_one(self._connection, KeptReading, _FIND_READING, **named)

    def comparisons(self, check: str) -> tuple[KeptComparison, ...]:
        """Every comparison, by round and subject."""
        return read_all(self._connection, KeptComparison, _COMPARISONS, check=check)

    def frozen_records(self, check: str) -> tuple[FrozenRecord, ...]:
        """Every edition of the record, the first first."""
        return read_all(self._connection, FrozenRecord, _FROZEN, check=check)

    def signatures(self, check: str) -> tuple[KeptSignature, ...]:
        """Every signature, by edition and slot."""
        return read_all(self._connection, KeptSignature, _SIGNATURES, check=check)

    def find_pdf(self, check: str, edition: int) -> KeptPdf | None:
        """The PDF of an edition."""
        return find_one(self._connection, KeptPdf, _FIND_PDF, check=check, edition=edition)

    def pdf_editions(self, check: str) -> tuple[int, ...]:
        """The editions whose PDF is stored, without reading the PDFs."""
        return tuple(self._connection.scalars(_PDF_EDITIONS, {"check": check}))

    def followed(self, check: str) -> tuple[KeptFollowed, ...]:
        """What followed each edition of which it was told, the first first."""
        return read_all(self._connection, KeptFollowed, _FOLLOWED, check=check)

    def help_takers(self, check: str) -> tuple[HelpTaker, ...]:
        """Who took which request for help, the first first."""
        return read_all(self._connection, HelpTaker, _HELP_TAKERS, check=check)

    def find_code(self, digest: str) -> JoinCode | None:
        """The joining code with this digest; of several, over the years, the one that expires last."""
        return find_one(self._connection, JoinCode, _FIND_CODE, digest=digest)
