"""What a check that was given up leaves to be done: what it had half changed."""

from app.records.infusion import InfusionState
from app.records.state import CheckState
from app.records.steps import BASELINE


def leads_after_giving_up(state: CheckState, infusion: InfusionState) -> str:
    """The kind of check that must come before the infusion runs on; blank where none must.

    Once the line is off the patient, or somebody has read what was loaded, nobody knows which syringe or
    device is there, and whether the line is on: only the same change, from its beginning, says so.
    """
    if not infusion.runs or infusion.ended_at is not None:
        return ""
    return state.kind.name if state.kind.takes_apart and _is_under_way(state) else ""


def _is_under_way(state: CheckState) -> bool:
    """Whether more was done than to pause and to look at the patient."""
    assert state.plan is not None  # noqa: S101  # what takes something apart has steps
    harmless = {step.id for step in state.plan.steps if step.pauses or step.entry == BASELINE}
    is_handed_in = any(each.handed_in for each in state.rounds)
    return is_handed_in or any(each.step not in harmless for each in state.confirmations)
