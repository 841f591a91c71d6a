"""What a check that was given up leaves to be done: what it had half changed, and what it had found."""

from collections.abc import Collection

from app.records.followup import Found, is_read_alike, leads_to
from app.records.infusion import InfusionState
from app.records.state import CheckState, Round
from app.records.steps import BASELINE

_OF_ANOTHER = "patient-differs"


def leads_after_giving_up(state: CheckState, infusion: InfusionState) -> str:
    """The kind of check that must come before the infusion runs on; blank where none must.

    Once the line is off the patient, or somebody has read what was loaded, nobody knows which syringe or
    device is there, and whether the line is on: only the same change, from its beginning, says so. And what
    two read alike of what runs, and is wrong, stays wrong whatever becomes of their check.
    """
    if not infusion.runs or infusion.ended_at is not None:
        return ""
    if state.kind.takes_apart:
        return state.kind.name if _is_under_way(state) else ""
    stops = _found_wrong(state) if state.kind.is_running else ()
    return leads_to(state.kind, stops, in_force=infusion.in_force) if stops else ""


def reading_of_what_runs(state: CheckState) -> int:
    """The last reading of what runs, if its two agreed: the account has its totals; 0 where there is none.

    What was read where another patient lies may be of another's device.
    """
    last = _last_compared(state) if state.kind.is_running else None
    if last is None or any(each.reads_apart or each.code == _OF_ANOTHER for each in last.findings):
        return 0
    return last.number


def account_after_giving_up(state: CheckState, *, but: Collection[str]) -> Round | None:
    """The last reading, if the account did not add up in it: counted again or not, that stays open.

    `but` are the findings that were told when what they are about was written.
    """
    last = _last_compared(state)
    found = [each for each in last.findings if each.is_of_account and each.code not in but] if last else []
    return last if found else None


def _is_under_way(state: CheckState) -> bool:
    """Whether more was done than to pause and to look at the patient."""
    assert state.plan is not None  # noqa: S101  # what takes something apart has steps
    harmless = {step.id for step in state.plan.steps if step.pauses or step.entry == BASELINE}
    is_handed_in = any(each.handed_in for each in state.rounds)
    return is_handed_in or any(each.step not in harmless for each in state.confirmations)


def _found_wrong(state: CheckState) -> tuple[Found, ...]:
    """The stops that were open; where something was read apart, those that rest on nothing of it."""
    last, exempt = _last_compared(state), {each.finding for each in state.exemptions}
    stops = tuple(each for each in last.findings if each.is_open(exempt)) if last else ()
    if not any(each.reads_apart for each in stops):
        return stops
    return tuple(each for each in stops if not each.reads_apart and is_read_alike(each))


def _last_compared(state: CheckState) -> Round | None:
    return next((each for each in reversed(state.rounds) if each.compared_at is not None), None)
