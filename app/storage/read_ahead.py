"""Reading many checks in one go: a statement for some of them at a time, where a reader asks for each one."""

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any, TypeVar

from sqlalchemy import Connection, Select, Table, func, select

from app.people import Person
from app.records.course_kinds import COURSE
from app.records.export_events import Exported
from app.records.kept import (
    Access,
    Entry,
    FrozenRecord,
    HelpTaker,
    KeptCheck,
    KeptComparison,
    KeptFollowed,
    KeptInfusion,
    KeptPdf,
    KeptReading,
    KeptSignature,
    Participant,
    Session,
    SiteData,
    Unit,
)
from app.records.kept_reviews import Classification, FindingReview
from app.records.kept_rows import EndedRow, FindingReached, FindingRow, SettledRow
from app.storage import review_tables, row_tables, rows, tables
from app.storage.places import placed, select_placed
from app.storage.reader import Reader
from app.storage.remembered import Memory

Kept = TypeVar("Kept")

# Each kind of row that belongs to one check, its table, and the order in which the reader gives it.
_OF_A_CHECK: dict[type[Any], tuple[Table, tuple[str, ...]]] = {
    Participant: (tables.participant, ("slot",)),
    KeptReading: (tables.reading, ("round", "subject", "slot")),
    KeptComparison: (tables.comparison, ("round", "subject")),
    FrozenRecord: (tables.frozen, ("edition",)),
    KeptSignature: (tables.signature, ("edition", "slot")),
    HelpTaker: (tables.help_taker, ("taken_at", "help", "turn")),
    KeptPdf: (tables.pdf, ("edition",)),
    KeptFollowed: (tables.what_followed, ("edition",)),
    FindingRow: (row_tables.finding, row_tables.PLACE),
    SettledRow: (row_tables.finding_settled, row_tables.PLACE),
    FindingReached: (row_tables.finding_reached, (*row_tables.PLACE, "state", "person")),
    EndedRow: (row_tables.ended_check, ("check",)),
    FindingReview: (review_tables.finding_review, ("position",)),
    Classification: (review_tables.finding_classified, ("subject", "round", "number", "place")),
}


class ReadAhead(Reader):
    """A reader that says what any reader of the same snapshot says, and has the checks at hand in memory.

    It remembers people, units, sessions and published data: nothing changes in a snapshot.
    """

    def __init__(self, connection: Connection, memory: Memory | None = None) -> None:
        """Read through one connection, whose transaction sees one moment."""
        super().__init__(connection, memory)
        self._head: int | None = None
        self._held: dict[object, Mapping[str, Any]] = {}
        self._known_people: dict[str, Person | None] = {}
        self._known_units: dict[str, Unit | None] = {}
        self._known_sessions: dict[str, Session | None] = {}
        self._versions: tuple[SiteData, ...] | None = None
        self._exported: tuple[Entry, ...] | None = None

    def take(self, checks: Sequence[str]) -> None:
        """Have these checks at hand, and no others.

        Where one row of them cannot be read none is held: each check is then read by itself, and the one at
        fault fails alone.
        """
        self._held = {}
        try:
            self._held = self._read_all_of(checks)
        except Exception:  # noqa: BLE001  # what is damaged may fail in any way
            self._held = {}

    def take_states(self, checks: Collection[KeptCheck], infusions: Collection[str] = ()) -> None:
        """Have at hand what the states of these checks and infusions are folded from, and nothing else."""
        ids = {each.id for each in checks}
        self._held = {
            **self._entries_of(ids, {*(each.infusion for each in checks), *infusions}),
            KeptComparison: self._rows_of(KeptComparison, ids),
        }

    def take_comparisons(self, checks: Collection[str]) -> None:
        """Have the comparisons of these checks at hand besides."""
        held = self._held.get(KeptComparison, {})
        wanted = set(checks) - set(held)
        if wanted:
            self._held = {**self._held, KeptComparison: {**held, **self._rows_of(KeptComparison, wanted)}}

    def head(self) -> int:
        """As any reader."""
        if self._head is None:
            self._head = super().head()
        return self._head

    def find_check(self, check: str) -> KeptCheck | None:
        """As any reader."""
        return self._one(KeptCheck, check, super().find_check)

    def find_infusion(self, infusion: str) -> KeptInfusion | None:
        """As any reader."""
        return self._one(KeptInfusion, infusion, super().find_infusion)

    def participants(self, check: str) -> tuple[Participant, ...]:
        """As any reader."""
        return self._all(Participant, check, super().participants)

    def readings(self, check: str) -> tuple[KeptReading, ...]:
        """As any reader."""
        return self._all(KeptReading, check, super().readings)

    def comparisons(self, check: str) -> tuple[KeptComparison, ...]:
        """As any reader."""
        return self._all(KeptComparison, check, super().comparisons)

    def frozen_records(self, check: str) -> tuple[FrozenRecord, ...]:
        """As any reader."""
        return self._all(FrozenRecord, check, super().frozen_records)

    def signatures(self, check: str) -> tuple[KeptSignature, ...]:
        """As any reader."""
        return self._all(KeptSignature, check, super().signatures)

    def followed(self, check: str) -> tuple[KeptFollowed, ...]:
        """As any reader."""
        return self._all(KeptFollowed, check, super().followed)

    def help_takers(self, check: str) -> tuple[HelpTaker, ...]:
        """As any reader."""
        return self._all(HelpTaker, check, super().help_takers)

    def finding_rows(self, check: str) -> tuple[FindingRow, ...]:
        """As any reader."""
        return self._all(FindingRow, check, super().finding_rows)

    def settled_rows(self, check: str) -> tuple[SettledRow, ...]:
        """As any reader."""
        return self._all(SettledRow, check, super().settled_rows)

    def reached_rows(self, check: str) -> tuple[FindingReached, ...]:
        """As any reader."""
        return self._all(FindingReached, check, super().reached_rows)

    def ended_rows(self, check: str) -> tuple[EndedRow, ...]:
        """As any reader."""
        return self._all(EndedRow, check, super().ended_rows)

    def finding_reviews(self, check: str) -> tuple[FindingReview, ...]:
        """As any reader."""
        return self._all(FindingReview, check, super().finding_reviews)

    def classifications(self, check: str) -> tuple[Classification, ...]:
        """As any reader."""
        return self._all(Classification, check, super().classifications)

    def entries(self, check: str) -> tuple[Entry, ...]:
        """As any reader."""
        return self._all(Entry, check, super().entries)

    def course(self, infusion: str) -> tuple[Entry, ...]:
        """As any reader."""
        return self._all(COURSE, infusion, super().course)

    def entries_with_course(self, check: KeptCheck) -> tuple[Entry, ...]:
        """As any reader."""
        held = self._held.get(Entry, {}).get(check.id)
        if held is None:
            return super().entries_with_course(check)
        others = (each for each in self.course(check.infusion) if each.check != check.id)
        return tuple(sorted((*held, *others), key=lambda each: each.position))

    def accesses_of_infusion(self, infusion: str) -> tuple[Access, ...]:
        """As any reader."""
        return self._all(Access, infusion, super().accesses_of_infusion)

    def exports_asked_by(self, people: Collection[str]) -> tuple[Entry, ...]:
        """As any reader."""
        if self._exported is None:
            self._exported = self.entries_of_kind(Exported.kind)
        return tuple(each for each in self._exported if each.by in people)

    def began_at(self, infusion: str) -> datetime | None:
        """As any reader."""
        return self._one(datetime, infusion, super().began_at)

    def pdf_editions(self, check: str) -> tuple[int, ...]:
        """As any reader."""
        held = self._held.get(KeptPdf, {}).get(check)
        return super().pdf_editions(check) if held is None else tuple(each.edition for each in held)

    def find_pdf(self, check: str, edition: int) -> KeptPdf | None:
        """As any reader."""
        held = self._held.get(KeptPdf, {}).get(check)
        if held is None:
            return super().find_pdf(check, edition)
        return next((each for each in held if each.edition == edition), None)

    def find_person(self, person: str) -> Person | None:
        """As any reader."""
        if person not in self._known_people:
            self._known_people[person] = super().find_person(person)
        return self._known_people[person]

    def people_with(self, ids: Collection[str]) -> dict[str, Person]:
        """As any reader."""
        lacking = set(ids) - set(self._known_people)
        if lacking:
            self._known_people |= {**dict.fromkeys(lacking), **super().people_with(lacking)}
        return {each: person for each in ids if (person := self._known_people[each]) is not None}

    def find_unit(self, unit: str) -> Unit | None:
        """As any reader."""
        if unit not in self._known_units:
            self._known_units[unit] = super().find_unit(unit)
        return self._known_units[unit]

    def find_session(self, digest: str) -> Session | None:
        """As any reader."""
        if digest not in self._known_sessions:
            self._known_sessions[digest] = super().find_session(digest)
        return self._known_sessions[digest]

    def published(self, *, at: datetime) -> dict[str, SiteData]:
        """As any reader."""
        if self._versions is None:
            inorder = select(tables.site_data).order_by(tables.site_data.c.number)
            self._versions = rows.read_all(self._connection, SiteData, inorder)
        return {each.what: each for each in self._versions if each.in_force_from <= at}

    def _one(self, kind: type[Kept], key: str, read: Callable[[str], Kept | None]) -> Kept | None:
        held: Kept | None = self._held.get(kind, {}).get(key)
        return read(key) if held is None else held

    def _all(self, kind: object, key: str, read: Callable[[str], tuple[Kept, ...]]) -> tuple[Kept, ...]:
        held: tuple[Kept, ...] | None = self._held.get(kind, {}).get(key)
        return read(key) if held is None else held

    def _read_all_of(self, checks: Sequence[str]) -> dict[object, Mapping[str, Any]]:
        check, infusion = tables.check, tables.infusion
        found = rows.read_all(self._connection, KeptCheck, select(check).where(check.c.id.in_(checks)))
        its = sorted({each.infusion for each in found})
        infusions = select_placed().where(infusion.c.id.in_(its))
        held: dict[object, Mapping[str, Any]] = {
            KeptCheck: {each.id: each for each in found},
            KeptInfusion: {row["id"]: placed(row) for row in rows.found(self._connection, infusions)},
            **self._entries_of(checks, its),
            Access: self._accesses_of(its),
            datetime: self._beginnings_of(its),
        }
        for kind in _OF_A_CHECK:
            held[kind] = self._rows_of(kind, checks)
        return held

    def _rows_of(self, kind: type[Any], checks: Collection[str]) -> Mapping[str, tuple[Any, ...]]:
        table, order = _OF_A_CHECK[kind]
        wanted = select(table).where(table.c.check.in_(checks)).order_by(*(table.c[name] for name in order))
        some = rows.read_all(self._connection, kind, wanted)
        return _grouped(checks, ((each.check, each) for each in some))

    def _entries_of(
        self, checks: Collection[str], infusions: Collection[str]
    ) -> dict[object, Mapping[str, tuple[Entry, ...]]]:
        """The entries of these checks, and those that make the course of these infusions."""
        log = tables.log_entry
        # Put like this SQLite cannot go by the kind, through all of it that ever happened.
        of_course = log.c.infusion.in_(infusions) & (log.c.kind + "").in_(COURSE)
        wanted = select(log).where(log.c.check.in_(checks) | of_course).order_by(log.c.position)
        found = rows.entries(self._connection, wanted)
        course = ((each.infusion, each) for each in found if each.event.kind in COURSE)
        return {
            Entry: _grouped(checks, ((each.check, each) for each in found if each.check in checks)),
            COURSE: _grouped(infusions, (each for each in course if each[0] in infusions)),
        }

    def _accesses_of(self, infusions: Sequence[str]) -> Mapping[str, tuple[Access, ...]]:
        access, check = tables.access, tables.check
        kept = [column for column in access.c if column.name in Access.__dataclass_fields__]
        wanted: Select[Any] = (
            select(check.c.infusion.label("of"), *kept)
            .join_from(access, check, check.c.id == access.c.check)
            .where(check.c.infusion.in_(infusions))
            .order_by(access.c.at)
        )
        found = self._connection.execute(wanted).mappings()
        return _grouped(
            infusions,
            ((row["of"], Access(**{each.name: row[each.name] for each in kept})) for row in found),
        )

    def _beginnings_of(self, infusions: Sequence[str]) -> Mapping[str, datetime]:
        log = tables.log_entry
        first = select(func.min(log.c.position)).where(log.c.infusion.in_(infusions)).group_by(log.c.infusion)
        wanted = select(log.c.infusion, log.c.at).where(log.c.position.in_(first))
        return {row.infusion: row.at for row in self._connection.execute(wanted)}


def _grouped(keys: Iterable[str], found: Iterable[tuple[str, Kept]]) -> dict[str, tuple[Kept, ...]]:
    """By their keys in the order found; a key without any has none."""
    groups: dict[str, list[Kept]] = {key: [] for key in keys}
    for key, each in found:
        groups[key].append(each)
    return {key: tuple(some) for key, some in groups.items()}
