"""What the page of a check is called once something has become of it: a few words, and never a value."""

from collections.abc import Mapping

from app.records.events import ClearanceLapsed
from app.records.followup import Severity
from app.records.kind import Syringe
from app.records.state import BLIND, CheckState, Phase
from app.words.names import named_within

STOPPED = "The device was stopped"
PAUSED = "The line is paused"
NOT_COMPARED = "Nothing is compared yet: the two still read"
SET_ASIDE = "A rule was set aside for this once"
LAPSED_BY_TIME = "No longer ready to start: the time has run out"
LAPSED_BY_LOOK = "No longer ready to start: the device shows something else"

_OF_PHASE: dict[Phase, str] = {
    Phase.CLEARED: "Ready to start",
    Phase.STARTED: "The infusion was started",
    Phase.ABANDONED: "This check was given up",
}


def title_of(state: CheckState, *, is_stopped: bool, leads: bool, is_paused: bool = False) -> str:
    """The title; blank where a finding leads the page (`leads`), and nothing has become of the check yet."""
    if is_stopped:
        return STOPPED
    if is_paused:
        return PAUSED
    if state.phase in (Phase.LED, Phase.DONE):
        return _of_its_end(state)
    if state.phase is Phase.LAPSED:
        # A clearance is ended by a last look, or by time alone.
        return LAPSED_BY_LOOK if state.lapse == ClearanceLapsed.LAST_LOOK_DIFFERS else LAPSED_BY_TIME
    if state.phase in _OF_PHASE:
        return _OF_PHASE[state.phase]
    if leads:
        return ""
    if state.phase in BLIND:
        return NOT_COMPARED
    stops = [each for each in state.findings if each.severity == Severity.STOP]
    return SET_ASIDE if stops else state.kind.agrees


def what_follows(state: CheckState, names: Mapping[str, str]) -> str:
    """What its end means for whoever goes on; blank before it, and where that follows from its title."""
    if state.phase not in (Phase.DONE, Phase.STARTED):
        return ""
    kind = state.kind
    if kind.ends:
        return "With both signatures this infusion has ended."
    if kind.responsible is not None:
        return f"With both signatures {names[state.people[kind.responsible]]} answers for this infusion."
    if kind.may_be_on_again:
        return (
            "What is left of a syringe that is not used again is wasted before a witness, "
            "or given back to the pharmacy."
        )
    if kind.syringe is Syringe.IS_ANOTHER:
        return "What is left of the old syringe is wasted before a witness, or given back to the pharmacy."
    return ""


def _of_its_end(state: CheckState) -> str:
    if state.phase is Phase.LED:
        return f"This check led to a {named_within(state.led_to)}"
    return f"This check is done: {state.kind.agrees[:1].lower()}{state.kind.agrees[1:]}"
