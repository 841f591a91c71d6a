"""Whether a syringe was replaced after the line had been primed from it: the line then holds the old drug."""

from collections.abc import Iterable

from app.records import events
from app.records.kept import PRIMING, Entry
from app.records.sources import Source
from app.records.steps import DONE, Plan


def find_replaced(entries: Iterable[Entry], plan: Plan) -> int | None:
    """The reading before which a syringe was replaced from which a line was primed; the last of several."""
    primes = {step.id for step in plan.steps if step.primes}
    is_primed, replaced = False, None
    for entry in entries:
        match entry.event:
            case events.HandedIn(subject=subject) if subject == PRIMING:
                is_primed = True
            case events.StepsConfirmed(part=part, steps=steps) if part == DONE and primes & {*steps}:
                is_primed = True
            case events.NextReadingOpened(touched=touched, round=number) if Source.LABEL in touched:
                replaced, is_primed = (number if is_primed else replaced), False
            case _:
                pass
    return replaced
