"""What a person may see of a check: one function, used by every page, export and log.

The phases are named in `Sight`. Nobody ever sees a reading whose round was not compared; its author sees the
own draft, which is not the check's.
"""

from dataclasses import dataclass, replace
from enum import IntEnum

from app.records.emergencies import Emergencies
from app.records.followup import OF_PATIENT, Found, differing_sources
from app.records.infusion import InfusionState
from app.records.kept import A, B, KeptCheck, KeptInfusion
from app.records.kinds import kind_named
from app.records.ranking import Standing
from app.records.state import BLIND, ENDED, PUT_RIGHT_MEANWHILE, CheckState, Phase, Round
from app.records.steps import DIFFERS


class Sight(IntEnum):
    """How much, from nothing to all; each includes the one before."""

    NOTHING = 0
    PROGRESS = 1
    FIELDS = 2
    EVERYTHING = 3


@dataclass(frozen=True, kw_only=True)
class Viewer:
    """Who looks, and what the permission table gives them.

    `blind_at` names the beds, each with its unit, at which this person is one of two whose readings do not
    agree yet. `blind_on` are the infusions of
    those checks, wherever they are found.
    """

    person: str
    unit: str
    sees_unit: bool
    reads_records: bool
    blind_at: frozenset[tuple[str, str]] = frozenset()
    blind_on: frozenset[str] = frozenset()


def sight(state: CheckState, viewer: Viewer) -> Sight:
    """How much of this check the viewer may see now."""
    seen = _sight_with_open_eyes(state, viewer)
    reads_there = bed_of(state.check) in viewer.blind_at or state.check.infusion in viewer.blind_on
    if not reads_there or (_is_one_of(state, viewer) and is_blind_in(state)):
        return seen
    # An earlier check is closed to whoever reads blind at the same bed, or of the same infusion wherever it
    # is, whatever that person was in it.
    return min(seen, Sight.PROGRESS)


def bed_of(place: KeptCheck | KeptInfusion) -> tuple[str, str]:
    """Its bed, with the unit: of two infusions there, one may say what the other is."""
    return place.unit, place.bed


def is_closed_to(infusion: KeptInfusion, viewer: Viewer) -> bool:
    """Whether the viewer reads blind at an infusion's bed, or the infusion itself, wherever it is found."""
    return bed_of(infusion) in viewer.blind_at or infusion.id in viewer.blind_on


def _is_one_of(state: CheckState, viewer: Viewer) -> bool:
    return viewer.person in state.people.values()


def _sight_with_open_eyes(state: CheckState, viewer: Viewer) -> Sight:
    if _is_one_of(state, viewer):
        return _of_the_two(state)
    if viewer.person in {each.taken_by for each in state.help}:
        return Sight.EVERYTHING
    return _of_others(state, viewer)


def _of_the_two(state: CheckState) -> Sight:
    if state.phase in BLIND:
        return Sight.PROGRESS
    disputed = state.phase in (Phase.DISPUTED, Phase.ESCALATED)
    return Sight.FIELDS if disputed and state.must_read_again else Sight.EVERYTHING


def is_blind_in(state: CheckState) -> bool:
    """Whether what the infusion knows is closed to this check's two: they read, or have to read again.

    A look at it then would tell one what the other may have read.
    """
    return _of_the_two(state) is not Sight.EVERYTHING


def _of_others(state: CheckState, viewer: Viewer) -> Sight:
    on_unit = viewer.sees_unit and viewer.unit == state.check.unit
    if _is_over(state.phase):
        return Sight.EVERYTHING if on_unit or viewer.reads_records else Sight.NOTHING
    # A pharmacist serves every unit, and so is told of every unit's checks how far they are.
    return Sight.PROGRESS if on_unit or (viewer.sees_unit and viewer.reads_records) else Sight.NOTHING


def may_see_messages(state: CheckState, allowed: Sight, *, reads_records: bool) -> bool:
    """Whether orders that other systems sent may be seen as they came, by whoever sees this much of a check.

    They say more than was compared, and of no check while it goes on.
    """
    return reads_records and state.has_ended and allowed is Sight.EVERYTHING


def _is_over(phase: Phase) -> bool:
    """Cleared or ended: from then on the check is history, and lapsing does not make it secret again."""
    return phase in {Phase.CLEARED, Phase.LAPSED} | ENDED


def visible_to_others(state: CheckState, infusion: InfusionState) -> str:
    """The one word of progress that people outside the check may see."""
    return led_words(state.led_to) or standing_of(state, infusion).value


def led_words(led_to: str) -> str:
    """That a check led to one of another kind, or that an infusion waits for it; blank where none did."""
    return f"led to a {kind_named(led_to).words.lower()}" if led_to else ""


def infusion_words(standing: Standing, led_to: str) -> str:
    """What a list says of an infusion that stands so: what weighs more is said before what comes first."""
    return led_words(led_to) if standing is Standing.LED else standing.value


def standing_of(state: CheckState, infusion: InfusionState) -> Standing:
    """What a list says of a check to people outside it.

    What its comparison found is not among that, but for a stop about a patient to whom it runs, and that only
    once the readings agree: while they do not, whatever is found may be what one of the two alone read.
    """
    if _is_wrong_while_it_runs(state) and not (infusion.is_stopped or state.stopped):
        return Standing.ACT_NOW
    if state.open_help is not None:
        return Standing.ASKED_FOR_HELP
    if infusion.was_stopped(state.check.id) or (state.stopped and not state.has_ended):
        return Standing.STOPPED
    if infusion.pause is not None and state.phase is Phase.STARTED and infusion.in_force == state.check.id:
        return Standing.PAUSED
    return _STANDING.get(state.phase, Standing.IN_PROGRESS)


def _is_wrong_while_it_runs(state: CheckState) -> bool:
    is_of_patient = any(each.about == OF_PATIENT for each in state.findings)
    is_stop = state.phase in (Phase.DISPUTED, Phase.ESCALATED) or (is_of_patient and not state.has_ended)
    return state.kind.is_running and is_stop and not state.must_read_again


def standing_of_infusion(
    infusion: InfusionState,
    *,
    two_run: bool = False,
    overdue: bool = False,
    syringe_low: bool = False,
    left_off: bool = False,
) -> Standing:
    """What a list says of an infusion that was started; `two_run`: another runs that cannot beside it.

    `overdue` and `syringe_low` are told of what runs, to nobody who reads blind there. `left_off`: nobody
    starts it again.
    """
    if two_run:
        return Standing.TWO_RUN
    if infusion.is_unchecked:
        return Standing.ON_PAPER if infusion.on_paper else Standing.UNCHECKED
    if infusion.waits and (waiting := _waiting(infusion.emergencies)) is not None:
        return waiting
    if infusion.led_to:
        return Standing.LED
    if infusion.pause is not None:
        return Standing.PAUSED
    if not infusion.is_running:
        is_over = infusion.end_is_due and (left_off or infusion.ended_at is not None)
        if is_over:
            return Standing.ACCOUNT_OPEN
        return Standing.STOPPED if infusion.emergencies.evidence is None else Standing.KEPT
    return _of_what_runs(infusion, overdue=overdue, syringe_low=syringe_low)


def _of_what_runs(infusion: InfusionState, *, overdue: bool, syringe_low: bool) -> Standing:
    if overdue:
        return Standing.OVERDUE
    if infusion.transfer is not None:
        return Standing.CHECK_DUE
    return Standing.SYRINGE_LOW if syringe_low else Standing.RUNNING


def _waiting(left: Emergencies) -> Standing | None:
    """What an emergency left behind, the most urgent of it; nothing where all of it is free again."""
    if left.hold is not None:
        return Standing.HELD
    if left.evidence is not None:
        return Standing.KEPT
    if left.dead is not None:
        return Standing.DEAD
    return None if left.absence is None else Standing.AWAY


_STANDING: dict[Phase, Standing] = {
    Phase.OPENED: Standing.SECOND_WANTED,
    Phase.CLEARED: Standing.READY,
    Phase.LAPSED: Standing.LAPSED,
    Phase.STARTED: Standing.STARTED,
    Phase.DONE: Standing.DONE,
    Phase.LED: Standing.LED,
    Phase.ABANDONED: Standing.ABANDONED,
}


def as_seen(state: CheckState, allowed: Sight) -> CheckState:
    """The state as it may be handed to somebody: below everything without value, verdict and free text.

    Of findings only the fields and sources to be read again are left, and these for whoever may see fields.
    """
    if allowed is Sight.EVERYTHING:
        return state
    return replace(
        state,
        rounds=tuple(
            replace(
                each,
                findings=_fields_alone(each.findings) if allowed is Sight.FIELDS else (),
                voided=_voided(each),
                why="",
            )
            for each in state.rounds
        ),
        acknowledgements=(),
        exemptions=(),
        # What people write in their own words may hold a value.
        help=tuple(replace(each, text="", settled_text="") for each in state.help),
        # That the device was stopped, when and by whom is for everybody; what was written about it is not.
        stop_notes=tuple(replace(each, stopped_at="", why="", totals="") for each in state.stop_notes),
        baseline=None,
        baselines=(),
        taken_back=(),
        confirmations=tuple(each for each in state.confirmations if each.part != DIFFERS),
        differed=(),
        last_position=state.told_position,
    )


def _voided(each: Round) -> str:
    """That a round was voided; of what somebody saw no word."""
    return each.voided if each.voided in ("", PUT_RIGHT_MEANWHILE) else "voided"


def _fields_alone(findings: tuple[Found, ...]) -> tuple[Found, ...]:
    return tuple(
        Found(
            key="",
            code=each.code,
            severity=each.severity,
            field=each.field,
            clinician="",
            # That they differ, and nothing of what was read.
            readings={
                f"{letter}.{source}": text
                for source in differing_sources(each)
                for letter, text in ((A, None), (B, ""))
            },
            says="",
            slip="",
            factor="",
            origin="",
        )
        for each in findings
        if each.reads_apart
    )
