"""What was checked on paper as its page shows it: what paper said, and never whether that is right."""

from dataclasses import dataclass
from datetime import datetime

from app.records.fields import field_named
from app.web.models.lists import place
from app.words.screens import source_words
from app.workflow import transcribing
from app.workflow.refusals import NotAllowed, NotFound, NotOnShift, ReadsBlind


@dataclass(frozen=True, kw_only=True)
class PaperRow:
    """One line: what sheet 1 says, and sheet 2 where that is something else."""

    label: str
    first: str
    second: str


@dataclass(frozen=True, kw_only=True)
class PaperSource:
    """The lines of one source."""

    name: str
    rows: tuple[PaperRow, ...]


@dataclass(frozen=True, kw_only=True)
class TypedShown:
    """One transcription; `standing` says what it counts for."""

    position: int
    standing: str
    at: datetime
    by: str
    answered_by: str
    answered_at: datetime | None
    same: bool
    checked_at: str
    first: str
    second: str
    corrects: bool
    apart: tuple[str, ...]
    sources: tuple[PaperSource, ...]


@dataclass(frozen=True, kw_only=True)
class PaperPage:
    """The page of one infusion; `waits` is what this person may hold beside the sheets."""

    infusion: str
    place: str
    progress: str
    typed: tuple[TypedShown, ...]
    waits: int
    may_hold: bool
    mine: bool
    may_type: bool
    due_at: datetime | None
    overdue: bool
    refused: str


def paper_page(seen: transcribing.PaperSeen, now: datetime) -> PaperPage:
    """The page for whoever looks."""
    waits = seen.waits.position if seen.waits else 0
    return PaperPage(
        infusion=seen.infusion.id,
        place=place(seen.unit, seen.infusion.bed),
        progress=seen.progress,
        typed=tuple(_typed(each, seen) for each in seen.typed),
        waits=waits,
        may_hold=bool(waits) and not seen.mine and seen.refused is None,
        mine=seen.mine,
        may_type=seen.refused is None,
        due_at=seen.due_at,
        overdue=seen.due_at is not None and now > seen.due_at,
        refused=refused_words(seen.refused) if seen.refused else "",
    )


def _typed(each: transcribing.Typed, seen: transcribing.PaperSeen) -> TypedShown:
    event, told = each.event, each.told
    sources = dict.fromkeys(source for source, *_ in event.rows)
    return TypedShown(
        position=told.position,
        standing=_standing(each, seen),
        at=told.at,
        by=each.by,
        answered_by=each.answered_by,
        answered_at=told.answered_at,
        same=told.same,
        checked_at=event.checked_at,
        first=event.first,
        second=event.second,
        corrects=bool(event.corrects),
        apart=tuple(f"{_label(row)} ({source_words(source).lower()})" for source, row in event.differing),
        sources=tuple(
            PaperSource(
                name=source_words(name),
                rows=tuple(
                    PaperRow(label=_label(row), first=first, second=second)
                    for source, row, first, second in event.rows
                    if source == name
                ),
            )
            for name in sources
        ),
    )


def _standing(each: transcribing.Typed, seen: transcribing.PaperSeen) -> str:
    if each.told.position == seen.stands:
        return "This stands"
    if seen.waits is not None and each.told.position == seen.waits.position:
        return "This waits for another nurse"
    if each.told.answered_by and not each.told.same:
        return "Not the same as the sheets"
    return "Typed in before"


def _label(row: str) -> str:
    return field_named(row).label


def refused_words(refused: transcribing.CannotType) -> str:
    """Why this person types nothing in; blank where a page of its own says it."""
    match refused:
        case ReadsBlind():
            return (
                "This is closed to you for now: you are one of two who read here, each alone. "
                "A colleague types in what was checked on paper. It opens once your readings agree."
            )
        case transcribing.NotUnchecked():
            return (
                "This infusion does not run without a check: two nurses have checked it, or it has ended. "
                "Keep the sheets with the papers of the patient."
            )
        case NotOnShift():
            return "Your shift is on another unit. Sign out, and sign in again for this one."
        case NotAllowed() | NotFound():
            return ""
