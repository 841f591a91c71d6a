"""The fold from a check's events to its state: one small function an event, applied in the log's order."""

# ruff: noqa: ARG001  # each of them takes the event, its entry and the sum, whichever it needs

from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import datetime, timedelta
from functools import singledispatch

from app.records import events
from app.records.added_up import Results, Sum
from app.records.asked_help import Help, Taking
from app.records.events import Event
from app.records.infusion import misplaced_stops
from app.records.kept import FIRST, PRIMING, SECOND, SOURCES, Entry, KeptCheck
from app.records.kinds import End, kind_named
from app.records.reading import with_whole
from app.records.sources import Source
from app.records.state import (
    PUT_RIGHT_MEANWHILE,
    VOIDED,
    Acknowledgement,
    Baseline,
    CheckState,
    Confirmation,
    Exemption,
    HandIn,
    Round,
    Signing,
)
from app.records.steps import DIFFERS, DONE, TAKEN_BACK, Plan
from app.records.stop_notes import StopNote
from app.records.taken_back import TakenBack
from app.records.ward_events import DrugTakenBack


def fold(
    check: KeptCheck,
    entries: Iterable[Entry],
    results: Results,
    *,
    plan: Plan | None,
    now: datetime,
    clearance: timedelta,
) -> CheckState:
    """The state of one check at `now`, from its log entries in order and what its comparisons found.

    Of the entries of its infusion that are not its own only those about stops of the device count, and only
    from its opening on: anybody's word that the device was stopped stands on every check there.
    """
    told = tuple(entries)
    total = Sum(kind=kind_named(check.kind), results=results, misplaced=misplaced_stops(told), plan=plan)
    for entry in told:
        if entry.check == check.id or (total.last_position and isinstance(entry.event, _OF_ANY_CHECK)):
            _apply(entry.event, entry, total)
            if entry.position in results.other_syringe:
                total.drop_after(Source.LABEL)
            total.last_position = entry.position
            if isinstance(entry.event, _SHARED):
                total.shared_position = entry.position
    added_up = dict(vars(total))
    del added_up["kind"], added_up["results"], added_up["misplaced"]
    return CheckState(check=check, now=now, clearance=clearance, **added_up)


_OF_ANY_CHECK = (events.DeviceStopped, events.StopMisplaced)
# What one of the two is told of at once, though both still read alone.
_SHARED = (*_OF_ANY_CHECK, events.CheckOpened, events.Joined, events.NextReadingOpened, events.RoundVoided)


@singledispatch
def _apply(event: Event, entry: Entry, total: Sum) -> None:
    """Events that say nothing of a check's state leave it as it is."""


@_apply.register
def _opened(event: events.CheckOpened, entry: Entry, total: Sum) -> None:
    total.rereadings, total.course = event.rereadings_before, event.course
    # Whoever opened may read at once: on one shared device the second joins after the first has handed in.
    total.rounds = (Round(number=1, scope=total.kind.reads, touched=(), opened_at=entry.at),)


@_apply.register
def _joined(event: events.Joined, entry: Entry, total: Sum) -> None:
    total.people[event.slot] = entry.by
    total.joined_at[event.slot] = entry.at


@_apply.register
def _handed_in(event: events.HandedIn, entry: Entry, total: Sum) -> None:
    if event.subject == PRIMING:
        total.drop_primed_volume()
        total.priming_round, total.priming_handed_in = event.round + 1, frozenset({event.slot})
        return
    assert entry.signed_in_at is not None  # noqa: S101  # a reading is always a person's
    hand_in = HandIn(
        slot=event.slot,
        at=entry.at,
        session=entry.session,
        device=entry.device,
        signed_in_at=entry.signed_in_at,
        method=event.method,
    )
    *earlier, current = total.rounds
    total.rounds = (*earlier, replace(current, handed_in={**current.handed_in, event.slot: hand_in}))


@_apply.register
def _voided(event: events.RoundVoided, entry: Entry, total: Sum) -> None:
    *earlier, current = total.rounds
    if not event.sources or Source.LABEL in event.sources:
        total.drop_same_syringe()
    total.rounds = (
        *earlier,
        # Nobody who says that there is danger has to say more.
        replace(current, voided=event.why or _voided_by(event), danger_in=event.sources),
        Round(
            number=current.number + 1,
            # What may be put right now is read whole, also where only some of it was to be read.
            scope=with_whole(current.scope, event.sources),
            touched=tuple(dict.fromkeys((*current.touched, *event.touched))),
            opened_at=entry.at,
            opened_by=entry.by if event.outcome else "",
            outcome=event.outcome or current.outcome,
        ),
    )
    total.drop_after(*event.touched)


def _voided_by(event: events.RoundVoided) -> str:
    return PUT_RIGHT_MEANWHILE if event.outcome else VOIDED


@_apply.register
def _compared(event: events.Compared, entry: Entry, total: Sum) -> None:
    if event.subject == SOURCES:
        *earlier, current = total.rounds
        found = total.results.findings[event.round]
        total.rounds = (*earlier, replace(current, compared_at=entry.at, findings=found))
        return
    total.priming_settled = total.results.priming[event.round]
    total.priming_judged = event.round
    if not total.priming_settled:
        total.drop_primed_volume()


@_apply.register
def _next_reading(event: events.NextReadingOpened, entry: Entry, total: Sum) -> None:
    reads_apart = any(found.reads_apart for found in total.rounds[-1].findings)
    if reads_apart:
        # Counted also when a source was put right besides: otherwise saying so would buy another try.
        total.rereadings += 1
    opened = Round(
        number=event.round,
        scope=event.scope,
        touched=event.touched,
        opened_at=entry.at,
        opened_by=entry.by,
        why=event.why,
        outcome=event.outcome,
        # Nothing was put right and nothing read otherwise: what does not add up is counted once more.
        recount=not event.touched and not reads_apart,
    )
    total.rounds = (*total.rounds, opened)
    total.drop_edition()
    total.drop_after(*event.touched)


@_apply.register
def _acknowledged(event: events.CautionAcknowledged, entry: Entry, total: Sum) -> None:
    acknowledged = Acknowledgement(
        slot=event.slot,
        finding=event.finding,
        reason=event.reason,
        named=event.named,
        text=event.text,
        at=entry.at,
    )
    total.acknowledgements = (*total.acknowledgements, acknowledged)


@_apply.register
def _granted(event: events.ExceptionGranted, entry: Entry, total: Sum) -> None:
    total.exemptions = (*total.exemptions, Exemption(**vars(event), by=entry.by, at=entry.at))


@_apply.register
def _steps(event: events.StepsConfirmed, entry: Entry, total: Sum) -> None:
    if total.plan and event.part in (DONE, DIFFERS):
        gone = total.plan.undone_by(event.steps)
        total.confirmations = tuple(each for each in total.confirmations if each.step not in gone)
    said = {(event.slot, step) for step in event.steps}
    others = (each for each in total.confirmations if (each.slot, each.step) not in said)
    said_now = tuple(
        Confirmation(step=step, part=event.part, slot=event.slot, by=entry.by, at=entry.at)
        for step in event.steps
    )
    total.confirmations = (*others, *said_now)
    total.differed += tuple(each for each in said_now if each.part == DIFFERS)


@_apply.register
def _baseline(event: events.BaselineObserved, entry: Entry, total: Sum) -> None:
    total.drop_baseline()
    total.baseline = Baseline(
        scale=event.scale,
        sedation=event.sedation,
        respiratory_rate=event.respiratory_rate,
        spo2=event.spo2,
        below=event.below,
        by=entry.by,
        at=entry.at,
        position=entry.position,
    )
    total.baselines = (*total.baselines, total.baseline)


@_apply.register
def _taken_back(event: DrugTakenBack, entry: Entry, total: Sum) -> None:
    # What was verified, frozen and signed was what had been written before; what is cleared or ended stays.
    if total.cleared_at is None and not total.abandoned:
        total.drop_entry(TAKEN_BACK)
        total.drop_edition()
    taken = TakenBack(**vars(event), by=entry.by, at=entry.at, position=entry.position)
    total.taken_back = (*total.taken_back, taken)


@_apply.register
def _frozen(event: events.RecordFrozen, entry: Entry, total: Sum) -> None:
    total.edition, total.frozen_digest = event.edition, event.digest


@_apply.register
def _signed(event: events.Signed, entry: Entry, total: Sum) -> None:
    total.signatures[event.slot] = Signing(
        slot=event.slot, by=entry.by, at=entry.at, digest=event.digest, meaning=event.meaning
    )
    if {FIRST, SECOND} <= set(total.signatures) and total.kind.end is End.CLEARED:
        total.cleared_at = entry.at


@_apply.register
def _issued(event: events.RecordIssued, entry: Entry, total: Sum) -> None:
    total.issued |= {event.edition}


@_apply.register
def _last_look(event: events.LastLookTaken, entry: Entry, total: Sum) -> None:
    if event.same:
        total.last_looks |= {event.slot}


@_apply.register
def _lapsed(event: events.ClearanceLapsed, entry: Entry, total: Sum) -> None:
    total.lapse = event.why


@_apply.register
def _started(event: events.Started, entry: Entry, total: Sum) -> None:
    total.started_at = entry.at


@_apply.register
def _done(event: events.CheckDone, entry: Entry, total: Sum) -> None:
    total.done_at = entry.at


@_apply.register
def _led(event: events.LedToCheck, entry: Entry, total: Sum) -> None:
    total.led_to = event.check_kind


@_apply.register
def _stopped(event: events.DeviceStopped, entry: Entry, total: Sum) -> None:
    note = StopNote(
        note=int(event.note or entry.position),
        by=event.author or entry.by,
        at=entry.at,
        stopped_at=event.stopped_at,
        why=event.why,
        totals=event.totals,
        position=entry.position,
        misplaced=str(entry.position) in total.misplaced,
        placed_by=entry.by if event.author else "",
    )
    total.stop_notes = (*total.stop_notes, note)
    has_ended = total.started_at or total.done_at or total.led_to or total.abandoned
    if has_ended or not note.for_the_patient:
        return
    # A clearance that was void once does not come back, whatever is said of the note afterwards.
    if total.frozen_digest or not note.misplaced:
        total.drop_baseline()
        total.drop_edition()


@_apply.register
def _abandoned(event: events.Abandoned, entry: Entry, total: Sum) -> None:
    total.abandoned = event.reason
    total.abandoned_by, total.abandoned_at = entry.by, entry.at


@_apply.register
def _help_asked(event: events.HelpAsked, entry: Entry, total: Sum) -> None:
    asked = Help(id=event.help, asked_by=entry.by, asked_at=entry.at, why=event.why, text=event.text)
    total.help = (*total.help, asked)


@_apply.register
def _help_taken(event: events.HelpTaken, entry: Entry, total: Sum) -> None:
    taking = Taking(by=entry.by, at=entry.at)
    _change_help(total, event.help, lambda each: replace(each, takings=(*each.takings, taking)))


@_apply.register
def _help_settled(event: events.HelpSettled, entry: Entry, total: Sum) -> None:
    _change_help(
        total, event.help, lambda each: replace(each, outcome=event.outcome, settled_text=event.text)
    )
    # The third person has looked: the two get one more pair of readings before help is due again.
    total.rereadings = min(total.rereadings, 1)


def _change_help(total: Sum, named: str, change: Callable[[Help], Help]) -> None:
    total.help = tuple(change(each) if each.id == named else each for each in total.help)
