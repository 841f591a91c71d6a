"""How an infusion stands when it is handed over: whether it runs, what is left to do, who answers for it."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from typing import Any

from app.records.document import Names, said_by, time_in
from app.records.emergencies import Hold, Since, told_afterwards
from app.records.emergency_events import ReversalGiven
from app.records.evidence import answers_of, kept_in
from app.records.infusion import InfusionState, fold_infusion
from app.records.kept import Entry

RUNS, PAUSED, STOPPED, ENDED = "runs", "paused", "stopped", "ended"
HELD, DEAD, AWAY, KEPT, NOT_FOUND = "held", "dead", "away", "kept", "not-found"


def as_it_stands(
    infusion_id: str, entries: Sequence[Entry], *, to: str, names: Names, now: datetime
) -> dict[str, Any]:
    """As data for the record of a handoff, from what the log tells until it is frozen, which is `now`.

    `answered` did so for device, key and whatever is kept, and with both signatures `answers` does: whom it
    is handed over `to`, or the same where that is blank.
    """
    infusion = fold_infusion(infusion_id, entries)
    progress, since = _progress(infusion)
    return {
        "at": time_in(now),
        "state": progress,
        "since": time_in(since),
        "answered": said_by(infusion.responsible, names),
        "answers": said_by(to or infusion.responsible, names),
        "left": [*_left(infusion, entries, names)],
    }


def _progress(infusion: InfusionState) -> tuple[str, datetime]:
    run = infusion.last_run
    assert run is not None  # noqa: S101  # only what was started is handed over
    if infusion.ended_at is not None:
        return ENDED, infusion.ended_at
    if run.stopped_at is not None:
        return STOPPED, run.stopped_at
    return (RUNS, run.since) if infusion.pause is None else (PAUSED, infusion.pause.at)


def _left(infusion: InfusionState, entries: Sequence[Entry], names: Names) -> Iterator[dict[str, Any]]:
    """What must come before it is started again, unless it has ended; and what somebody has to end."""
    stands, told = infusion.emergencies, told_afterwards(entries)

    def left(
        what: str, since: Since, said: Mapping[str, str] | None = None, **more: object
    ) -> dict[str, Any]:
        answers = told.get(str(since.position), {}) if said is None else said
        by = {"since": time_in(since.at), **said_by(since.by, names)}
        return {"what": what, "which": since.what, **by, "told": dict(answers), **more}

    if infusion.ended_at is None:
        if stands.hold is not None:
            decided = stands.hold.decided
            yield left(
                HELD,
                stands.hold.first,
                _told_of_doses(stands.hold, entries, told),
                last_dose_at=time_in(stands.hold.last_dose_at),
                decided={**said_by(decided.by, names), "at": time_in(decided.at)} if decided else None,
            )
        if stands.dead is not None:
            yield left(DEAD, stands.dead)
        if stands.absence is not None:
            back = stands.absence.back
            yield left(AWAY, stands.absence.went, back_at=time_in(back.at) if back else None)
    if stands.evidence is not None:
        harm = str(stands.evidence.position)
        written = [answers_of(each) for each in kept_in(entries).values() if each.harm == harm]
        yield left(KEPT, stands.evidence, written[0] if written else {})
    if stands.key is not None:
        counted = stands.key.counted
        yield left(NOT_FOUND, stands.key.missing, counted_at=time_in(counted.at) if counted else None)


def _told_of_doses(
    hold: Hold, entries: Sequence[Entry], told: Mapping[str, Mapping[str, str]]
) -> dict[str, str]:
    """What was told of the doses since the first, of each answer the last."""
    doses = (each for each in entries if isinstance(each.event, ReversalGiven))
    since = [told.get(str(each.position), {}) for each in doses if each.position >= hold.first.position]
    return {name: text for each in since for name, text in each.items()}
