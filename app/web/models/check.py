"""What stands at the head of every page of a check, and its two nurses."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from types import MappingProxyType

from app.records.as_it_stands import PAUSED, STOPPED
from app.records.document import AS_IT_STANDS
from app.records.followup import leads_to
from app.records.kept import FIRST, SECOND
from app.records.kinds import End
from app.records.restarting import left_on
from app.records.state import CheckState, Phase
from app.records.stop_notes import StopNote
from app.records.visibility import Sight
from app.site.loading import Loaded
from app.web.models.lists import place
from app.web.models.stands import Stand, stands_shown
from app.words.as_it_stands import STATES
from app.words.checking import help_asked_words
from app.words.names import named_within, round_words
from app.workflow.looking import Seen


@dataclass(frozen=True, kw_only=True)
class Nurse:
    """One of the two: the part, the printed name, and whether that is who looks."""

    slot: int
    person: str
    part: str
    name: str
    me: bool


@dataclass(frozen=True, kw_only=True)
class StopSaid:
    """Who wrote down that the device was stopped, and when.

    `note` is its number, for whoever may say that it was another bed.
    """

    by: str
    at: datetime
    note: int | None


@dataclass(frozen=True, kw_only=True)
class Bedside:
    """Where a check is, what kind of check, which reading of it, and whether it comes before a start.

    `stops`: that the device was stopped, where nothing else is said of it; `help` likewise that it was asked
    for. `position` is that of the last thing that happened of which one may be told.
    """

    check: str
    place: str
    kind: str
    has_steps: bool
    reading: str
    stops: tuple[StopSaid, ...]
    help: str
    before_start: bool
    may_have_to_start: bool
    position: int


@dataclass(frozen=True, kw_only=True)
class Head(Bedside):
    """And how far it is, without any value.

    `end` says what both signatures make of it, and `leads_to` what kind of check puts right what it finds.
    `infusion` has a page of its own once it was started, and is blank until then. `stands` is in which state
    it is handed over where it does not just run, and what is kept or missing with it.
    """

    infusion: str
    stands: tuple[Stand, ...]
    progress: str
    end: str
    is_running: bool
    leads_to: str
    nurses: tuple[Nurse, ...]
    slot: int | None

    def nurse(self, slot: int) -> Nurse:
        """The nurse of a slot."""
        return next(each for each in self.nurses if each.slot == slot)

    @property
    def is_one_of_the_two(self) -> bool:
        """Whether whoever looks is one of the two."""
        return self.slot is not None


@dataclass(frozen=True, kw_only=True)
class CheckPage:
    """A page that shows no more of a check than its head."""

    head: Head


@dataclass(frozen=True, kw_only=True)
class Until:
    """When a clearance lapses, and the whole minutes until then."""

    at: datetime
    minutes: int


def until(state: CheckState) -> Until:
    """How long a check that is ready to start stays so."""
    assert state.cleared_at is not None  # noqa: S101  # only what is cleared lapses
    at = state.cleared_at + state.clearance
    return Until(at=at, minutes=int((at - state.now).total_seconds()) // 60)


def bedside(
    state: CheckState,
    unit: str,
    *,
    viewer: str,
    number: int = 0,
    names: Mapping[str, str] = MappingProxyType({}),
) -> Bedside:
    """The head of a page of one check: of one of its readings, or before any."""
    return Bedside(
        check=state.check.id,
        place=place(unit, state.check.bed),
        kind=state.kind.words,
        has_steps=bool(state.kind.plans),
        reading=round_words(number) if number else "",
        stops=_stops(state, names, viewer),
        help=_help(state, names),
        before_start=is_before_start(state),
        may_have_to_start=is_before_start(state) and not state.has_ended,
        position=state.told_position,
    )


def _stops(state: CheckState, names: Mapping[str, str], viewer: str) -> tuple[StopSaid, ...]:
    """When it was written down, and by whom, where that is known; never what was written."""
    if state.has_ended:
        return ()
    return tuple(
        StopSaid(by=names.get(each.by, ""), at=each.at, note=note_for(each, viewer))
        for each in state.stop_notes
        if not each.misplaced
    )


def _help(state: CheckState, names: Mapping[str, str]) -> str:
    asked = state.open_help
    return help_asked_words(is_taken=bool(asked.taken_by), by=names.get(asked.taken_by, "")) if asked else ""


def note_for(stop: StopNote, viewer: str) -> int | None:
    """The number of a stop, for whoever may say that it was another bed."""
    return stop.note if stop.is_corrected_by(viewer) else None


def is_before_start(state: CheckState) -> bool:
    """Whether nothing is known to run here: what is to be stopped may be another infusion, or none."""
    return state.kind.end is End.CLEARED and state.phase is not Phase.STARTED


def _as_it_stands(loaded: Loaded) -> tuple[Stand, ...]:
    """Since when it does not run, and what an emergency left: state alone."""
    run, pause = loaded.infusion.last_run, loaded.infusion.pause
    stopped = []
    if run is not None and run.stopped_at is not None:
        stopped = [Stand(words=STATES[STOPPED], since=run.stopped_at)]
    elif pause is not None:
        stopped = [Stand(words=STATES[PAUSED], since=pause.at)]
    return (*stopped, *stands_shown(left_on(loaded.infusion, loaded.rules, loaded.state.now)))


def head_of(seen: Seen) -> Head:
    """The head of a page, for whoever looks."""
    state = seen.loaded.state
    led = state.led_to or leads_to(state.kind, state.open_stops, in_force=seen.loaded.infusion.in_force)
    return Head(
        check=state.check.id,
        place=place(seen.unit, state.check.bed),
        kind=state.kind.words,
        has_steps=bool(state.kind.plans),
        reading=round_words(state.current.number) if state.current else "",
        before_start=is_before_start(state),
        infusion=state.check.infusion if seen.loaded.infusion.runs else "",
        stands=_as_it_stands(seen.loaded) if AS_IT_STANDS in state.kind.sections else (),
        may_have_to_start=is_before_start(state) and not state.has_ended,
        progress=seen.progress,
        end=state.kind.end.value,
        is_running=state.kind.is_running,
        leads_to=named_within(led) if led else "",
        nurses=tuple(
            Nurse(
                slot=slot,
                person=state.people[slot],
                part=state.kind.part(slot),
                name=seen.names.get(state.people[slot], ""),
                me=slot == seen.slot,
            )
            for slot in (FIRST, SECOND)
            if slot in state.people
        ),
        slot=seen.slot,
        position=state.told_position,
        # Whoever may see everything is told more of it on the page itself.
        stops=() if seen.sight is Sight.EVERYTHING else _stops(state, seen.names, seen.viewer),
        help="" if seen.sight is Sight.EVERYTHING else _help(state, seen.names),
    )


def chosen_slot(seen: Seen, asked: str, *, together: bool) -> int:
    """Whose part the page shows: the own one, or the other's where both may work on one screen."""
    own = seen.slot or FIRST
    if together and seen.slot is not None and asked in (str(FIRST), str(SECOND)):
        return int(asked)
    return own
