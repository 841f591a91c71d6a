"""What came of a check on training cards, as a page."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from app.records.kept import FIRST, SECOND
from app.reports.shown_fields import EVERYTHING, LINE_END
from app.web.models.check import Head, head_of
from app.words.checking import spell
from app.words.names import SEVERITIES, SOURCES, finding_field_words
from app.words.study import ERRORS
from app.words.training import caught_share_words, caught_words, median_words, took_words
from app.workflow.training_outcome import Outcome, Told
from app.workflow.training_record import OwnTraining


@dataclass(frozen=True, kw_only=True)
class Stood:
    """What stood on the cards in one row of a comparison, source by source."""

    label: str
    on: tuple[tuple[str, str], ...]


@dataclass(frozen=True, kw_only=True)
class NurseTold:
    """One of the two: what was caught, blank where nothing can be said of it, and how fast."""

    name: str
    caught: str
    took: str


@dataclass(frozen=True, kw_only=True)
class OutcomePage:
    """The page; without cards there is nothing on it."""

    head: Head
    number: int
    wrong: str
    stood: tuple[Stood, ...]
    nurses: tuple[NurseTold, ...]
    engine: str
    found: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True, kw_only=True)
class OwnLine:
    """One of the own checks on cards."""

    check: str
    on: datetime
    number: int
    wrong: str
    caught: str
    took: str


@dataclass(frozen=True, kw_only=True)
class OwnPage:
    """All of them, and what they come to."""

    share: str
    median: str
    lines: tuple[OwnLine, ...]


def own_page(own: OwnTraining) -> OwnPage:
    """The page of whoever looks."""
    return OwnPage(
        share=caught_share_words(own.competency),
        median=median_words(own.competency),
        lines=tuple(
            OwnLine(
                check=check,
                on=each.on,
                number=each.number,
                wrong=each.wrong,
                caught=caught_words(each),
                took=took_words(each),
            )
            for check, each in zip(own.checks, own.competency.lines, strict=True)
        ),
    )


def outcome_page(told: Told) -> OutcomePage:
    """The page for whoever looks."""
    head, outcome = head_of(told.check), told.outcome
    if outcome is None:
        return OutcomePage(head=head, number=0, wrong="", stood=(), nurses=(), engine="", found=())
    return OutcomePage(
        head=head,
        number=outcome.number,
        wrong=ERRORS[outcome.error] if outcome.error else "",
        stood=tuple(_stood(outcome)),
        nurses=tuple(
            NurseTold(
                name=head.nurse(slot).name,
                caught=_caught_words(outcome, slot),
                took=_took_words(outcome, slot),
            )
            for slot in (FIRST, SECOND)
            if slot in outcome.joined
        ),
        engine=_engine_words(outcome),
        found=tuple(
            (SEVERITIES[each.severity], finding_field_words(each.field), each.says) for each in outcome.found
        ),
    )


def _stood(outcome: Outcome) -> Iterator[Stood]:
    """Of what is wrong, what each card said."""
    for shown in EVERYTHING:
        if shown.row.about & set(outcome.fields):
            said = (
                (SOURCES[source], shown.said(outcome.stood[source]))
                for source in shown.row.sources
                if source in outcome.stood
            )
            yield Stood(
                label=shown.row.label,
                on=tuple((source, text.replace(LINE_END, "; ")) for source, text in said if text),
            )


def _caught_words(outcome: Outcome, slot: int) -> str:
    if outcome.error is None:
        return ""
    if not outcome.caught:
        return "Nothing can be said of it: reading 1 of both was never compared."
    if outcome.caught[slot]:
        return "Caught it: this reading alone shows it."
    return "Did not catch it: this reading alone does not show it."


def _took_words(outcome: Outcome, slot: int) -> str:
    if slot not in outcome.seconds:
        return "Did not hand in reading 1."
    took = spell(outcome.seconds[slot])
    alone = spell(outcome.seconds[slot] - outcome.joined[slot])
    joined = f", {alone} after joining" if outcome.joined[slot] else ""
    return f"Handed in {took} after the check was opened{joined}."


def _engine_words(outcome: Outcome) -> str:
    if not outcome.seconds or len(outcome.seconds) < SECOND:
        return "Reading 1 of both was never compared."
    if outcome.error is None:
        stops = any(words == SEVERITIES["stop"] for words in (SEVERITIES[e.severity] for e in outcome.found))
        return (
            "Nothing was wrong, and the comparison stopped all the same: somebody read or typed otherwise."
            if stops
            else "Nothing was wrong, and nothing was stopped."
        )
    return "Stopped on what was wrong." if outcome.stopped else "Was not stopped on what was wrong."
