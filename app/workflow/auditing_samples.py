"""The audit of a sample: what was drawn, what was found of each check, and what that says of all."""

from collections.abc import Mapping
from dataclasses import dataclass

from app.base import Act
from app.people import Permission, Role, may
from app.records.kept import Entry
from app.records.kept_rows import EndedRow
from app.records.kept_samples import (
    CONFORMS,
    NOT_ASSESSABLE,
    AuditAnswer,
    answers_in,
    fault_in,
)
from app.records.sample_events import SampleAnswered, SampleDrawn
from app.reports.audit_sheet import AuditSheet, render_audit_sheet
from app.review.intervals import Interval, Share, wilson
from app.review.sampling import Estimate, Stratum, stratified
from app.site.installation import Site
from app.site.loading import load, rules_in_force
from app.storage import Reader
from app.workflow.loading import viewer_of
from app.workflow.queueing import one_at_a_time
from app.workflow.refusals import Incomplete, NotAllowed, NotFound, ReadsBlind
from app.workflow.sampling import Drawn, drawn_again, plan_of

MOST_AT_ONCE = 60
"""Of so many checks one page, and one worksheet, hold all."""


@dataclass(frozen=True, kw_only=True)
class SampleListed:
    """One sample of the list."""

    sample: str
    event: SampleDrawn
    entry: Entry


@dataclass(frozen=True, kw_only=True)
class UnitAudited:
    """What was found in the sample of one unit; `rate` is of those that could be assessed."""

    unit: str
    size: int
    rows: tuple[EndedRow, ...]
    answered: int
    rate: Share | None

    @property
    def interval(self) -> Interval | None:
        """Between what and what the rate lies, by Wilson."""
        return wilson(self.rate) if self.rate else None


@dataclass(frozen=True, kw_only=True)
class SampleSeen:
    """A sample as it is drawn again today; `is_as_drawn`: by the digest in the log it is the same.

    `estimate` weights each unit by its size, and is None until something of each could be assessed.
    """

    listed: SampleListed
    units: tuple[UnitAudited, ...]
    is_as_drawn: bool
    answers: Mapping[str, tuple[AuditAnswer, ...]]
    estimate: Estimate | None
    people: Mapping[str, str]
    names: Mapping[str, str]

    @property
    def is_short(self) -> bool:
        """Whether one page and one worksheet hold all of it."""
        return sum(len(each.rows) for each in self.units) <= MOST_AT_ONCE

    def number_of(self, row: EndedRow) -> int:
        """The number of a check in its unit, in the order of drawing."""
        return next(1 + unit.rows.index(row) for unit in self.units if row in unit.rows)

    def find_row(self, check: str) -> EndedRow | None:
        """A check of it."""
        return next((row for unit in self.units for row in unit.rows if row.check == check), None)


@dataclass(frozen=True)
class Answered:
    """It stands in the log, beside whatever was answered before."""


@dataclass(frozen=True)
class AnsweredMeanwhile:
    """Somebody answered while this was written: whoever wrote it looks at that first."""


@dataclass(frozen=True)
class OwnCheck:
    """Nobody audits a check in which they had a part."""


def samples_of(site: Site, roles: frozenset[Role]) -> tuple[SampleListed, ...] | NotAllowed:
    """Every sample that was drawn, the newest first."""
    if not may(roles, Permission.SAMPLE):
        return NotAllowed()
    with site.store.read() as reader:
        return listed_samples(reader)


def see_sample(
    site: Site, act: Act, roles: frozenset[Role], sample: str
) -> SampleSeen | NotFound | NotAllowed | ReadsBlind:
    """A sample with what was answered; closed to whoever reads blind, for answers are people's words."""
    with site.store.read() as reader:
        return _seen(reader, act, roles, sample)


def answer_check(  # noqa: PLR0913, PLR0917  # who says what of which
    site: Site,
    act: Act,
    roles: frozenset[Role],
    sample: str,
    check: str,
    *,
    answer: str,
    reasons: tuple[str, ...],
    text: str,
    known: int,
) -> Answered | AnsweredMeanwhile | Incomplete | OwnCheck | NotFound | NotAllowed | ReadsBlind:
    """Say what was found of one check; a correction is one more answer to so many that are known."""
    faults = fault_in(answer, reasons)
    if faults:
        return Incomplete(fields=faults)
    with site.store.read() as reader:
        # What was drawn, and who had a part in it, stays: nobody who writes waits while it is drawn again.
        seen = _seen(reader, act, roles, sample)
        if not isinstance(seen, SampleSeen):
            return seen
        if seen.find_row(check) is None:
            return NotFound()
        loaded = load(reader, check, act.now)
    assert loaded is not None  # noqa: S101  # it has ended
    if act.by.person in {*loaded.state.people.values(), *loaded.state.helpers}:
        return OwnCheck()
    event = SampleAnswered(sample=sample, audited=check, answer=answer, reasons=reasons, text=text.strip())
    with site.store.write() as tx:
        one_at_a_time(tx, f"auditing {sample}", act.now)
        if viewer_of(tx, act.by, roles, act.now).blind_at:
            return tx.refuse(ReadsBlind())
        given = answers_in(tx.entries_of_kind(SampleAnswered.kind), sample).get(check, ())
        if len(given) > known:
            # The same sent twice does no harm.
            return tx.refuse(Answered() if _is_same(given[-1], event, act) else AnsweredMeanwhile())
        tx.append(event, act=act)
    return Answered()


def _is_same(given: AuditAnswer, event: SampleAnswered, act: Act) -> bool:
    said = event.answer, event.reasons, event.text, act.by.person
    return (given.answer, given.reasons, given.text, given.by) == said


def audit_sheet(
    site: Site, act: Act, roles: frozenset[Role], sample: str, *, unit: str = ""
) -> bytes | NotFound | NotAllowed | ReadsBlind:
    """The worksheet as a PDF: which checks, and boxes for what is found; no value of any.

    Of one unit, or of all where it is not too long for that.
    """
    with site.store.read() as reader:
        seen = _seen(reader, act, roles, sample)
        if not isinstance(seen, SampleSeen):
            return seen
        rules = rules_in_force(reader, act.now)
    units = [each for each in seen.units if each.unit == unit] if unit else seen.units
    if not units or not (unit or seen.is_short):
        return NotFound()
    event = seen.listed.event
    return render_audit_sheet(
        AuditSheet(
            site=rules.policy.site,
            zone=rules.policy.zone,
            invented=rules.are_invented,
            at=act.now,
            seed=event.seed,
            first=event.from_date,
            last=event.to_date,
            each=event.each,
            digest=event.digest,
            units=tuple((seen.names.get(each.unit, each.unit), each.size, each.rows) for each in units),
        )
    )


def listed_samples(reader: Reader) -> tuple[SampleListed, ...]:
    """Every sample that was drawn, the newest first."""
    return tuple(
        SampleListed(sample=each.event.sample, event=each.event, entry=each)
        for each in reversed(reader.entries_of_kind(SampleDrawn.kind))
        if isinstance(each.event, SampleDrawn)
    )


def _seen(
    reader: Reader, act: Act, roles: frozenset[Role], sample: str
) -> SampleSeen | NotFound | NotAllowed | ReadsBlind:
    if not may(roles, Permission.SAMPLE):
        return NotAllowed()
    listed = next((each for each in listed_samples(reader) if each.sample == sample), None)
    if listed is None:
        return NotFound()
    if viewer_of(reader, act.by, roles, act.now).blind_at:
        return ReadsBlind()
    event = listed.event
    drawn = drawn_again(reader, act.now, plan_of(event))
    if not isinstance(drawn, Drawn):
        return NotFound()
    answers = answers_in(reader.entries_of_kind(SampleAnswered.kind), sample)
    units = tuple(_audited(unit, rows, drawn.sizes[unit], answers) for unit, rows in drawn.units.items())
    who = {listed.entry.by, *(each.by for given in answers.values() for each in given)}
    return SampleSeen(
        listed=listed,
        units=units,
        is_as_drawn=drawn.digest == event.digest,
        answers=answers,
        estimate=stratified(
            Stratum(
                size=each.size,
                judged=each.rate.of if each.rate else 0,
                holds=each.rate.count if each.rate else 0,
            )
            for each in units
        ),
        people={each: person.printed_name for each, person in reader.people_with(who).items()},
        names={each.id: each.name for each in reader.units()},
    )


def _audited(
    unit: str, rows: tuple[EndedRow, ...], size: int, answers: Mapping[str, tuple[AuditAnswer, ...]]
) -> UnitAudited:
    last = [answers[each.check][-1].answer for each in rows if each.check in answers]
    judged = [each for each in last if each != NOT_ASSESSABLE]
    rate = Share(count=judged.count(CONFORMS), of=len(judged)) if judged else None
    return UnitAudited(unit=unit, size=size, rows=rows, answered=len(last), rate=rate)
