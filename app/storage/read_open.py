"""What is open and what runs, of a unit and of a person: what is over is not read."""

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, Connection, Select, and_, bindparam, select

from app.records.course_kinds import PUT_IN_FORCE
from app.records.event_kinds import ENDING_KINDS
from app.records.kept import SOURCES, KeptCheck, KeptComparison, KeptInfusion
from app.records.kinds import KINDS
from app.storage import tables
from app.storage.places import FOUND_AT_BED, at, placed, select_placed
from app.storage.questions import ABOUT_CHECKS, ABOUT_INFUSIONS, OfChecks, OfInfusions
from app.storage.read_log import LogReader
from app.storage.remembered import Memory, Remembered
from app.storage.rows import found, read_all

_CHECK, _INFUSION, _JOINED, _LOG = tables.check, tables.infusion, tables.participant, tables.log_entry


@dataclass(frozen=True, kw_only=True)
class _Question:
    """What a list asks of the rows of a table: of all of them, or of those with an entry after a position."""

    kind: Callable[..., Any]
    of_all: Select[Any]
    of_touched: Select[Any]


def _question(
    kind: Callable[..., Any],
    rows: Select[Any],
    holds: ColumnElement[bool],
    named: Any,  # noqa: ANN401  # a column
) -> _Question:
    touched = select(named).where(_LOG.c.position > bindparam("position"), named.is_not(None))
    return _Question(
        kind=kind,
        of_all=rows.where(holds),
        of_touched=rows.add_columns(holds.label("holds")).where(rows.selected_columns.id.in_(touched)),
    )


def _placed(**row: Any) -> KeptInfusion:  # noqa: ANN401  # any column
    return placed(row)


_QUESTIONS: dict[OfChecks | OfInfusions, _Question] = {}
for _of_check, _holds in ABOUT_CHECKS.items():
    _QUESTIONS[_of_check] = _question(KeptCheck, select(_CHECK), _holds, _LOG.c.check)
for _of_infusion, _holds in ABOUT_INFUSIONS.items():
    _QUESTIONS[_of_infusion] = _question(_placed, select_placed(), _holds, _LOG.c.infusion)

_PARTS_IN = select(_JOINED.c.check, _JOINED.c.person).where(
    _JOINED.c.check.in_(bindparam("checks", expanding=True))
)
_ENDED = select(_LOG.c.check).where(_LOG.c.kind.in_(ENDING_KINDS), _LOG.c.at >= bindparam("since"))
_ENDED_SINCE = (
    select(_CHECK)
    .join(_JOINED, _JOINED.c.check == _CHECK.c.id)
    .where(_CHECK.c.id.in_(_ENDED), _JOINED.c.person == bindparam("person"))
)
_COMPARED, _AFTERWARDS, _NEXT_ROUND = tables.comparison, _LOG.alias("afterwards"), tables.comparison.alias()
_OF_AFTERWARDS = _CHECK.alias()
# Not every check that is done puts in force what it read.
_PUTTING = [kind.name for kind in KINDS.values() if kind.puts_in_force]
_COMPARED_IN_FORCE = (
    select(_LOG.c.infusion.label("of_infusion"), _COMPARED)
    .join_from(_LOG, _COMPARED, _COMPARED.c.check == _LOG.c.check)
    .join(_CHECK, _CHECK.c.id == _LOG.c.check)
    .where(
        _LOG.c.infusion.in_(bindparam("infusions", expanding=True)),
        _LOG.c.kind.in_(PUT_IN_FORCE),
        _CHECK.c.kind.in_(_PUTTING),
        _COMPARED.c.subject == SOURCES,
        ~select(_AFTERWARDS.c.position)
        .join_from(_AFTERWARDS, _OF_AFTERWARDS, _OF_AFTERWARDS.c.id == _AFTERWARDS.c.check)
        .where(
            _AFTERWARDS.c.infusion == _LOG.c.infusion,
            _AFTERWARDS.c.kind.in_(PUT_IN_FORCE),
            _OF_AFTERWARDS.c.kind.in_(_PUTTING),
            _AFTERWARDS.c.position > _LOG.c.position,
        )
        .exists(),
        ~select(_NEXT_ROUND.c.round)
        .where(
            _NEXT_ROUND.c.check == _COMPARED.c.check,
            _NEXT_ROUND.c.subject == SOURCES,
            _NEXT_ROUND.c.round > _COMPARED.c.round,
        )
        .exists(),
    )
)
_AT_BED = (_CHECK.c.unit == bindparam("unit"), _CHECK.c.bed == bindparam("bed"))
_OPEN_AT = select(_CHECK).where(*_AT_BED, ABOUT_CHECKS[OfChecks.OPEN])
_HAS_ONE_OPEN = (
    select(_CHECK.c.id).where(_CHECK.c.infusion == _INFUSION.c.id, ABOUT_CHECKS[OfChecks.OPEN]).exists()
)
_ALIVE_AT = select_placed().where(
    FOUND_AT_BED,
    ABOUT_INFUSIONS[OfInfusions.GOES_ON] | ABOUT_INFUSIONS[OfInfusions.UNCHECKED] | _HAS_ONE_OPEN,
)
# An infusion may have gone to another bed since a check of it.
_OPEN_OF_PERSON_BESIDE = (
    select(_CHECK)
    .join(_JOINED, _JOINED.c.check == _CHECK.c.id)
    .where(
        _JOINED.c.person == bindparam("person"),
        and_(*_AT_BED) | (_CHECK.c.infusion == bindparam("infusion")),
        ABOUT_CHECKS[OfChecks.OPEN],
    )
)


class OpenReader(LogReader):
    """What a list holds; each in the order in which it was opened."""

    _connection: Connection
    _memory: Memory | None
    # Whether what is found is remembered for others: only of a snapshot, which sees one moment.
    _remembers = True

    def checks_that(self, asked: OfChecks, unit: str) -> tuple[KeptCheck, ...]:
        """The checks of a unit of which it holds."""
        return _in_order(each for each in self._all_that(asked).values() if each.unit == unit)

    def open_checks(self) -> tuple[KeptCheck, ...]:
        """Every check that is open, on any unit."""
        return _in_order(self._all_that(OfChecks.OPEN).values())

    def checks_with_signature(self) -> tuple[KeptCheck, ...]:
        """Every check, on any unit, that is open, and signed since it was last read or lapsed."""
        return _in_order(self._all_that(OfChecks.SIGNED).values())

    def open_checks_at(self, unit: str, bed: str) -> tuple[KeptCheck, ...]:
        """The checks that are open at a bed, of whatever infusion: one is enough to keep another from it."""
        return _in_order(read_all(self._connection, KeptCheck, _OPEN_AT, unit=unit, bed=bed))

    def alive_at(self, unit: str, bed: str) -> tuple[KeptInfusion, ...]:
        """The infusions at a bed that run, wait for another check, lack one or have one open.

        One that another unit took from there is among them until two have checked it.
        """
        return _in_order(map(placed, found(self._connection, _ALIVE_AT, **at(unit, bed))))

    def infusions_that(self, asked: OfInfusions, unit: str) -> tuple[KeptInfusion, ...]:
        """The infusions of a unit of which it holds."""
        return _in_order(each for each in self._all_that(asked).values() if each.unit == unit)

    def all_infusions_that(self, asked: OfInfusions) -> tuple[KeptInfusion, ...]:
        """The infusions of which it holds, on any unit."""
        return _in_order(self._all_that(asked).values())

    def running(self) -> tuple[KeptInfusion, ...]:
        """Every infusion that runs, on any unit."""
        return self.all_infusions_that(OfInfusions.RUNS)

    def in_force(self, infusions: Collection[str]) -> dict[str, KeptComparison]:
        """By infusion, the last comparison of the check that put its settings in force, where one has."""
        some = found(self._connection, _COMPARED_IN_FORCE, infusions=list(infusions))
        return {row.pop("of_infusion"): KeptComparison(**row) for row in some}

    def open_checks_of_person(self, person: str, *, beside: KeptCheck | None = None) -> tuple[KeptCheck, ...]:
        """The open checks in which a person holds a slot; at the bed or of the infusion of one, if named."""
        if beside is not None:
            place = {"unit": beside.unit, "bed": beside.bed, "infusion": beside.infusion}
            its = read_all(self._connection, KeptCheck, _OPEN_OF_PERSON_BESIDE, person=person, **place)
            return _in_order(its)
        is_open = self._all_that(OfChecks.OPEN)
        parts = self._connection.execute(_PARTS_IN, {"checks": list(is_open)})
        return _in_order(is_open[check] for check, who in parts if who == person)

    def checks_of_person_ended_since(self, person: str, since: datetime) -> tuple[KeptCheck, ...]:
        """The checks in which a person holds a slot and that ended from a moment on."""
        return _in_order(read_all(self._connection, KeptCheck, _ENDED_SINCE, person=person, since=since))

    def _all_that(self, asked: OfChecks | OfInfusions) -> Mapping[str, Any]:
        """The checks, or the infusions, of which it holds, by their ids."""
        question = _QUESTIONS[asked]
        if self._memory is None:
            return self._asked(question)
        if not self._remembers:
            # It sees all that is committed, and so whatever any snapshot has seen.
            known = self._memory.find(asked)
            return self._asked(question) if known is None else self._asked_since(known, question)
        head = self.head()
        known = self._memory.find(asked, head)
        if known is not None and known.position == head:
            return known.rows
        answer = self._asked(question) if known is None else self._asked_since(known, question)
        self._memory.keep(asked, Remembered(position=head, rows=answer))
        return answer

    def _asked(self, question: _Question) -> Mapping[str, Any]:
        made = (question.kind(**row) for row in found(self._connection, question.of_all))
        return {each.id: each for each in made}

    def _asked_since(self, known: Remembered, question: _Question) -> Mapping[str, Any]:
        """What was known, with whatever has an entry since asked again."""
        answer = dict(known.rows)
        for row in found(self._connection, question.of_touched, position=known.position):
            holds = row.pop("holds")
            answer.pop(row["id"], None)
            if holds:
                answer[row["id"]] = question.kind(**row)
        return answer


def _in_order(rows: Any) -> tuple[Any, ...]:  # noqa: ANN401  # checks, or infusions
    return tuple(sorted(rows, key=lambda each: (each.opened_at, each.id)))
