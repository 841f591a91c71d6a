"""Ask once more, while it can still be refused, whether PCA runs already for the patient or at the bed."""

from dataclasses import dataclass

from app.base import Act
from app.judging.elsewhere import Beside, beside, cannot_run_beside, says_where
from app.records.kept import A, B, KeptInfusion
from app.records.restarting import HeldBack, held_back
from app.records.ward_events import RunsAgainBeside, StartRefused
from app.site.loading import Loaded, known_of, load_infusion, running_beside
from app.storage import Reader, Transaction
from app.workflow.queueing import one_at_a_time


@dataclass(frozen=True, kw_only=True)
class RunsElsewhere:
    """PCA runs already for this patient, or at this bed; `says` where, and nothing more of it."""

    says: str


def refuse_start(
    tx: Transaction, act: Act, loaded: Loaded, *, slot: int, what: str
) -> RunsElsewhere | HeldBack | None:
    """What stands against the end of this check; of what runs, once it is in the log that it was refused.

    An emergency may have been written down at any time since it was opened. What runs changes between the
    comparison and the start, too: two checks of one patient may go on at two beds. Whoever asks at the same
    time waits until this one is over.
    """
    one_at_a_time(tx, "beginning to run", act.now)
    kept, state = loaded.last_comparison, loaded.state
    back = held_back(loaded.infusion, state.kind, loaded.policy, act.now)
    if back is not None:
        return back
    assert kept is not None  # noqa: S101  # what is signed was compared
    read = kept.opened["answers"]
    says = says_where(beside(state.kind, read[A], read[B], running_beside(tx, state.check)))
    if not says:
        return None
    tx.append(StartRefused(edition=state.edition, slot=slot, what=what), act=act, check=state.check.id)
    return RunsElsewhere(says=says)


def beside_of(reader: Reader, infusion: KeptInfusion) -> tuple[Beside, ...]:
    """What runs and cannot run beside an infusion that runs."""
    state = load_infusion(reader, infusion.id)
    if not state.is_running:
        return ()
    patient = known_of(reader, state).patient.get("identifier", "")
    return cannot_run_beside(patient, running_beside(reader, infusion))


def note_two_run(tx: Transaction, act: Act, infusion: KeptInfusion) -> tuple[Beside, ...]:
    """Write down at each of them that two run which cannot; whoever begins to run meanwhile waits."""
    one_at_a_time(tx, "beginning to run", act.now)
    found = beside_of(tx, infusion)
    known = load_infusion(tx, infusion.id).beside
    for other in (each.runs.infusion for each in found if each.runs.infusion not in known):
        tx.append(RunsAgainBeside(beside=other), act=act, infusion=infusion.id)
        tx.append(RunsAgainBeside(beside=infusion.id), act=act, infusion=other)
    return found
