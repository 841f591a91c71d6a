"""The questions that lists ask of checks and of infusions: each stands here once, as a condition in SQL.

Of one check or infusion the same is asked of its state, the fold of its entries; a test holds the two equal.
"""

from collections.abc import Collection
from enum import StrEnum
from typing import Any

from sqlalchemy import (
    Boolean,
    ColumnElement,
    FromClause,
    FunctionElement,
    LargeBinary,
    func,
    literal,
    literal_column,
    select,
    type_coerce,
)
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.sql.compiler import SQLCompiler

from app.records.account_events import AccountClosed, AccountLeftOpen
from app.records.change_events import PatientTaken
from app.records.course_kinds import CHECKED_BY_TWO, STARTS
from app.records.emergencies import HOLDS, WAITS
from app.records.emergency_events import EvidenceReleased, HarmSuspected, KeyNotFound, LockChanged
from app.records.ending_events import EndWithdrawn, InfusionEnded
from app.records.event_kinds import ENDING_KINDS
from app.records.events import (
    END_OF_THERAPY,
    Abandoned,
    ClearanceLapsed,
    DeviceStopped,
    HelpAsked,
    HelpSettled,
    LedToCheck,
    NextReadingOpened,
    Signed,
    Started,
    StartedWithoutCheck,
    StopMisplaced,
)
from app.records.issue_events import IssueSettled, SyringeIssued
from app.records.kept import FIRST, SECOND
from app.storage import tables


class OfChecks(StrEnum):
    """What is asked of a check."""

    OPEN = "it has not ended"
    WAITS = "it is open, and a second nurse is wanted"
    ASKED_FOR_HELP = "help was asked for, and that is not settled"
    SIGNED = "it is open, and was signed after it was last read, and has not lapsed since"


class OfInfusions(StrEnum):
    """What is asked of an infusion."""

    RUNS = "it was started and not stopped since"
    UNCHECKED = "it was started without a check, both signed none since, and it has not ended"
    ENDED = "it was stopped for good"
    END_IS_DUE = "it was started and runs no more, and no two have signed its end"
    GOES_ON = "it runs, or it waits for the check that an earlier one or an emergency led to"
    TOLD = "what is left of it is kept as evidence, or its key or code is not found"
    ACCOUNT_OPEN = "its account was left open, and nobody has closed it"
    ISSUED = "a syringe was issued for it, and is neither put on nor given back"
    TAKEN = "it was taken from another unit, and no two have checked it since"


class _Holds(FunctionElement[bool]):
    """Whether bytes stand somewhere within others, which each engine has its own word for."""

    type = Boolean()
    inherit_cache = True


def holds_in(whole: ColumnElement[bytes], wanted: ColumnElement[Any]) -> ColumnElement[bool]:
    """Whether bytes stand somewhere within a column's."""
    return _Holds(whole, type_coerce(wanted, LargeBinary()))


@compiles(_Holds, "sqlite")
def _in_sqlite(element: _Holds, compiler: SQLCompiler, **kw: Any) -> str:  # noqa: ANN401  # the library's own
    return f"instr({compiler.process(element.clauses, **kw)}) > 0"


@compiles(_Holds, "postgresql")
def _in_postgresql(element: _Holds, compiler: SQLCompiler, **kw: Any) -> str:  # noqa: ANN401  # likewise
    whole, wanted = (compiler.process(each, **kw) for each in element.clauses)
    return f"position({wanted} in {whole}) > 0"


class _Naming(FunctionElement[bytes]):
    """How an entry names another by its position under a key, as bytes of its canonical form."""

    type = LargeBinary()
    inherit_cache = True


_NAMED = """'"' || {} || '":"' || {} || '"'"""


@compiles(_Naming, "sqlite")
def _named_in_sqlite(element: _Naming, compiler: SQLCompiler, **kw: Any) -> str:  # noqa: ANN401  # as above
    return f"CAST({_named(element, compiler, **kw)} AS BLOB)"


@compiles(_Naming, "postgresql")
def _named_in_postgresql(element: _Naming, compiler: SQLCompiler, **kw: Any) -> str:  # noqa: ANN401  # as above
    return f"convert_to({_named(element, compiler, **kw)}, 'UTF8')"


def _named(element: _Naming, compiler: SQLCompiler, **kw: Any) -> str:  # noqa: ANN401  # as above
    return _NAMED.format(*(compiler.process(each, **kw) for each in element.clauses))


_CHECK, _INFUSION, _LOG, _JOINED = tables.check, tables.infusion, tables.log_entry, tables.participant
_CLOSES = (InfusionEnded.kind,)
_STOPS = (DeviceStopped.kind, *_CLOSES)
# A quotation mark within somebody's words is written otherwise, so that only a reason can read like this.
_FOR_GOOD = f'"why":"{END_OF_THERAPY}"'.encode()


def _of_check(*kinds: str) -> ColumnElement[bool]:
    return select(_LOG.c.position).where(_LOG.c.check == _CHECK.c.id, _LOG.c.kind.in_(kinds)).exists()


def _times(kind: str) -> ColumnElement[int]:
    counted = select(func.count()).where(_LOG.c.check == _CHECK.c.id, _LOG.c.kind == kind)
    return counted.scalar_subquery()


def _last_is(kinds: Collection[str], *, among: Collection[str], holding: bytes = b"") -> ColumnElement[bool]:
    """Whether an infusion has an entry of these kinds, and none of `among` after it."""
    entry, later = _LOG.alias(), _LOG.alias()
    after = select(later.c.position).where(
        later.c.infusion == entry.c.infusion,
        later.c.kind.in_(among),
        later.c.position > entry.c.position,
        ~is_misplaced(later),
    )
    found = select(entry.c.position).where(
        entry.c.infusion == _INFUSION.c.id, entry.c.kind.in_(kinds), ~after.exists(), ~is_misplaced(entry)
    )
    if holding:
        found = found.where(_Holds(entry.c.canonical, literal(holding, LargeBinary())))
        found = found.where(~is_misplaced(entry, EndWithdrawn.kind))
    return found.exists()


def is_misplaced(stop: FromClause, kind: str = StopMisplaced.kind) -> ColumnElement[bool]:
    """Whether the author of an entry says that it was written at the wrong bed, or has said so otherwise."""
    said = _LOG.alias()
    return (
        select(said.c.position)
        .where(
            said.c.infusion == stop.c.infusion,
            said.c.kind == kind,
            _Holds(said.c.canonical, _Naming(literal_column("'stop'"), stop.c.position)),
        )
        .exists()
    )


def _issued() -> ColumnElement[bool]:
    """Whether a syringe was issued for the infusion of which nobody has said what became of it."""
    issue, said = _LOG.alias(), _LOG.alias()
    settled = select(said.c.position).where(
        said.c.infusion == issue.c.infusion,
        said.c.kind == IssueSettled.kind,
        _Holds(said.c.canonical, _Naming(literal_column("'issue'"), issue.c.position)),
    )
    return (
        select(issue.c.position)
        .where(issue.c.infusion == _INFUSION.c.id, issue.c.kind == SyringeIssued.kind, ~settled.exists())
        .exists()
    )


def _unchecked() -> ColumnElement[bool]:
    """Whether the infusion was started without a check, and both signed none since."""
    start, signed = _LOG.alias(), _LOG.alias()
    first, second = tables.signature.alias(), tables.signature.alias()
    both = (second.c.check == first.c.check) & (second.c.edition == first.c.edition)
    checked = (
        select(_CHECK.c.id)
        .join(first, (first.c.check == _CHECK.c.id) & (first.c.slot == FIRST))
        .join(second, both & (second.c.slot == SECOND))
        .join(signed, (signed.c.check == _CHECK.c.id) & (signed.c.kind == Signed.kind))
        .where(
            _CHECK.c.infusion == start.c.infusion,
            signed.c.infusion == start.c.infusion,
            signed.c.position > start.c.position,
        )
    )
    return (
        select(start.c.position)
        .where(
            start.c.infusion == _INFUSION.c.id,
            start.c.kind == StartedWithoutCheck.kind,
            ~is_misplaced(start),
            ~checked.exists(),
        )
        .exists()
    )


def _signed() -> ColumnElement[bool]:
    entry, later = _LOG.alias(), _LOG.alias()
    after = select(later.c.position).where(
        later.c.check == entry.c.check,
        later.c.kind.in_([ClearanceLapsed.kind, NextReadingOpened.kind]),
        later.c.position > entry.c.position,
    )
    signed = select(entry.c.position).where(entry.c.check == _CHECK.c.id, entry.c.kind == Signed.kind)
    return signed.where(~after.exists()).exists()


_joined = select(func.count()).where(_JOINED.c.check == _CHECK.c.id).scalar_subquery()
_open = ~_of_check(*ENDING_KINDS)
_runs = _last_is(STARTS, among=(*STARTS, *_STOPS))
_closed = _last_is(_CLOSES, among=STARTS)
_ended = _last_is(_STOPS, among=STARTS, holding=_FOR_GOOD) | _closed
_ever_started = _last_is(STARTS, among=())
_waits = _ever_started & (_last_is(WAITS, among=STARTS) | _last_is(HOLDS, among=(Started.kind,)))

ABOUT_CHECKS: dict[OfChecks, ColumnElement[bool]] = {
    OfChecks.OPEN: _open,
    OfChecks.WAITS: _open & (_joined < len((FIRST, SECOND))),
    OfChecks.ASKED_FOR_HELP: (_times(HelpAsked.kind) > _times(HelpSettled.kind))
    & ~_of_check(Abandoned.kind, LedToCheck.kind),
    OfChecks.SIGNED: _open & _signed(),
}
ABOUT_INFUSIONS: dict[OfInfusions, ColumnElement[bool]] = {
    OfInfusions.RUNS: _runs,
    OfInfusions.UNCHECKED: _unchecked() & ~_ended,
    OfInfusions.ENDED: _ended,
    OfInfusions.ACCOUNT_OPEN: _last_is((AccountLeftOpen.kind,), among=(AccountClosed.kind,)),
    OfInfusions.ISSUED: _issued(),
    OfInfusions.TAKEN: _last_is((PatientTaken.kind,), among=CHECKED_BY_TWO),
    OfInfusions.END_IS_DUE: _ever_started & ~_runs & ~_closed,
    OfInfusions.GOES_ON: _runs | ((_last_is((LedToCheck.kind,), among=STARTS) | _waits) & ~_ended),
    OfInfusions.TOLD: _last_is((HarmSuspected.kind,), among=(EvidenceReleased.kind,))
    | _last_is((KeyNotFound.kind,), among=(LockChanged.kind,)),
}
