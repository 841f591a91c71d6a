"""What is exported: all checks that have ended in some time, and what was done outside of them."""

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Select, and_, case, exists, func, literal, or_, select
from sqlalchemy.dialects import postgresql, sqlite

from app.records.events import Started
from app.records.exported import Ended
from app.records.exported_columns import CHECK, COLUMNS, FINDING, Exported
from app.records.kept import FIRST, SECOND, Entry
from app.records.kept_rows import EndedRow, FindingRow, SettledRow
from app.storage import rows, tables
from app.storage.questions import is_misplaced
from app.storage.row_tables import PLACE, ended_check, finding, finding_settled
from app.storage.rows import part

# Checks held in memory at a time.
_ONE_BY_ONE = 100

_part_a, _part_b = tables.participant.alias("part_a"), tables.participant.alias("part_b")
_person_a, _person_b = tables.person.alias("person_a"), tables.person.alias("person_b")
_start = tables.log_entry.alias("start")
_FROM = {
    "ended_check": ended_check,
    "finding": finding,
    "finding_settled": finding_settled,
    "person_a": _person_a,
    "person_b": _person_b,
}
_MADE: dict[str, Any] = {
    "row": case((finding.c.check.is_(None), CHECK), else_=FINDING),
    "started_by": case((_start.c.by == _part_a.c.person, "A"), (_start.c.by == _part_b.c.person, "B")),
}


@dataclass(frozen=True, kw_only=True)
class ExportSpan:
    """Checks that ended from one moment on and before another, but at none of some beds."""

    from_: datetime
    before: datetime
    left_out: Collection[tuple[str, str]] = ()


@dataclass(frozen=True, kw_only=True)
class FlatSource:
    """The driver's connection, and the statement with its values in it: times and beds of ours."""

    driver: Any
    text: str


class ExportReader:
    """Only what has ended, and nothing of an infusion of which a check goes on."""

    _connection: Connection

    def flat_source(self, span: ExportSpan) -> FlatSource:
        """A row a finding, and one for a check without."""
        return self.source_of(_flat(span))

    def source_of(self, statement: Select[Any]) -> FlatSource:
        """What is asked of the driver itself."""
        # The driver takes a percent sign as it stands where nothing is bound; its own style would double it.
        dialect = (
            sqlite.dialect()
            if self._connection.dialect.name == "sqlite"
            else postgresql.dialect(paramstyle="named")  # type: ignore[no-untyped-call]  # its constructor
        )
        text = str(statement.compile(dialect=dialect, compile_kwargs={"literal_binds": True}))
        return FlatSource(driver=self._connection.connection.driver_connection, text=text)

    def ended_one_by_one(self, span: ExportSpan) -> Iterator[Ended]:
        """Each check with its record, in the order in which they ended."""
        result = self._connection.execute(_with_record(span), execution_options={"yield_per": _ONE_BY_ONE})
        # The size stands in both places: without it the driver, or SQLAlchemy, would fetch everything.
        for some in result.mappings().partitions(_ONE_BY_ONE):
            ended = [part(each, EndedRow, ended_check, "ended_") for each in some]
            checks = [each.check for each in ended]
            findings = self._of_checks(FindingRow, finding, checks)
            settled = self._of_checks(SettledRow, finding_settled, checks)
            for each, row in zip(ended, some, strict=True):
                yield Ended(
                    row=each,
                    findings=tuple(one for one in findings if one.check == each.check),
                    settled=tuple(one for one in settled if one.check == each.check),
                    record=row["record"] or b"",
                    followed=row["followed"] or b"",
                    followed_digest=row["followed_digest"] or "",
                )

    def outside_of_checks(self, span: ExportSpan, kinds: Collection[str]) -> Iterator[tuple[Entry, str, str]]:
        """Entries of these kinds with unit and bed, of infusions of which every check has ended.

        What was written at the wrong bed is of none.
        """
        log, check = tables.log_entry, tables.check
        goes_on = exists().where(
            check.c.infusion == log.c.infusion,
            ~exists().where(ended_check.c.check == check.c.id),
        )
        statement = (
            select(*log.c, tables.infusion.c.unit.label("of_unit"), tables.infusion.c.bed.label("of_bed"))
            .join(tables.infusion, tables.infusion.c.id == log.c.infusion)
            .where(
                log.c.kind.in_(kinds),
                ~is_misplaced(log),
                log.c.at >= span.from_,
                log.c.at < span.before,
                ~goes_on,
                *_not_at(span.left_out, tables.infusion.c.unit, tables.infusion.c.bed),
            )
            .order_by(log.c.at, log.c.position)
        )
        result = self._connection.execute(statement, execution_options={"yield_per": _ONE_BY_ONE})
        for some in result.mappings().partitions(_ONE_BY_ONE):
            for row in some:
                columns = {column.name: row[column.name] for column in log.c}
                yield rows.entry(**columns), row["of_unit"], row["of_bed"]

    def patient_of(self, infusion: str) -> str:
        """The pseudonym of its patient, by whichever of its checks has one."""
        statement = select(func.max(ended_check.c.patient)).where(ended_check.c.infusion == infusion)
        return self._connection.execute(statement).scalar_one() or ""

    def _of_checks(self, kind: type[Any], table: Any, checks: list[str]) -> tuple[Any, ...]:  # noqa: ANN401  # rows of that kind
        statement = select(table).where(table.c.check.in_(checks))
        return rows.read_all(self._connection, kind, statement.order_by(*(table.c[name] for name in PLACE)))


def _not_at(left_out: Collection[tuple[str, str]], unit: Any, bed: Any) -> list[Any]:  # noqa: ANN401  # columns
    return [~or_(*(and_(unit == each, bed == at) for each, at in sorted(left_out)))] if left_out else []


def in_span(span: ExportSpan) -> list[Any]:
    """Which checks are exported."""
    ended = ended_check.c
    between = [ended.ended_at >= span.from_, ended.ended_at < span.before]
    return [*between, *_not_at(span.left_out, ended.unit, ended.bed)]


def _flat(span: ExportSpan) -> Select[Any]:
    ended = ended_check.c
    same_place = [finding_settled.c[name] == finding.c[name] for name in PLACE]
    joined = (
        joined_to_checks()
        .outerjoin(finding, finding.c.check == ended.check)
        .outerjoin(finding_settled, and_(*same_place))
    )
    return (
        select(*(source_column(each).label(each.name) for each in COLUMNS if _is_stored(each)))
        .select_from(joined)
        .where(*in_span(span))
        .order_by(ended.ended_at, ended.check, finding.c.round, finding.c.number, finding.c.subject)
    )


def joined_to_checks() -> Any:  # noqa: ANN401  # a join
    """Ended checks, each with its two and with its start."""
    check = ended_check.c.check
    joined: Any = ended_check
    for other, on in (
        (_part_a, (_part_a.c.check == check) & (_part_a.c.slot == FIRST)),
        (_person_a, _person_a.c.id == _part_a.c.person),
        (_part_b, (_part_b.c.check == check) & (_part_b.c.slot == SECOND)),
        (_person_b, _person_b.c.id == _part_b.c.person),
        (_start, (_start.c.check == check) & (_start.c.kind == Started.kind)),
    ):
        joined = joined.outerjoin(other, on)
    return joined


def _is_stored(column: Exported) -> bool:
    return bool(column.of) or column.name in _MADE


STORED = [each for each in COLUMNS if _is_stored(each)]


def source_column(column: Exported) -> Any:  # noqa: ANN401  # a column
    """Where it is read from."""
    if not column.of:
        return _MADE[column.name]
    table, _, name = column.of.partition(".")
    return _FROM[table].c[name]


def _with_record(span: ExportSpan) -> Select[Any]:
    """With the record that both signed; of one that only one signed nothing."""
    frozen, signature, followed = tables.frozen, tables.signature, tables.what_followed
    signed = (
        select(func.count())
        .where(signature.c.check == frozen.c.check, signature.c.edition == frozen.c.edition)
        .scalar_subquery()
    )
    ended = ended_check.c
    return (
        select(
            *(column.label(f"ended_{column.name}") for column in ended),
            frozen.c.document.label("record"),
            followed.c.document.label("followed"),
            followed.c.digest.label("followed_digest"),
        )
        .select_from(ended_check)
        .outerjoin(
            frozen,
            (frozen.c.check == ended.check) & (frozen.c.edition == ended.edition) & (signed == literal(2)),
        )
        .outerjoin(followed, (followed.c.check == frozen.c.check) & (followed.c.edition == frozen.c.edition))
        .where(*in_span(span))
        .order_by(ended.ended_at, ended.check)
    )
