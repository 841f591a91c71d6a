"""Whether another syringe came after the line had been primed: the line then holds the old drug."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from app.records import events
from app.records.kept import PRIMING, SOURCES, Entry
from app.records.sources import Source
from app.records.steps import DONE, Plan


@dataclass(frozen=True, kw_only=True)
class Replaced:
    """The reading of another syringe, the last of several; `unsaid` are those of which nobody had said so.

    Of these what both read on the label tells it, once it is compared.
    """

    last: int | None
    unsaid: frozenset[int]


def find_replaced(
    entries: Iterable[Entry], plan: Plan, contents: Mapping[int, object], apart: Collection[int] = ()
) -> Replaced:
    """The readings before which a syringe was replaced from which a line was primed.

    `contents` are drug and strength by round, where both read them alike on the label. Where the two read
    them differently one of them was wrong, and the syringe is the same. Where both read one thing and later
    another, and nobody said that the syringe was replaced, it was, as after danger was seen in it. While
    other readings are `apart`, that is told to nobody, like every other finding.
    """
    primes = {step.id for step in plan.steps if step.primes}
    is_primed, was_primed = False, False
    held: object = None
    last, unsaid = None, set[int]()
    for entry in entries:
        match entry.event:
            case events.HandedIn(subject=subject) if subject == PRIMING:
                is_primed = True
            case events.StepsConfirmed(part=part, steps=steps) if part == DONE and primes & {*steps}:
                is_primed = True
            case events.NextReadingOpened(touched=touched, round=number) if Source.LABEL in touched:
                last, is_primed = (number if is_primed else last), False
                was_primed, held = False, None
            case events.NextReadingOpened() | events.RoundVoided():
                was_primed = is_primed
            case events.Compared(subject=subject, round=number) if subject == SOURCES:
                now = contents.get(number)
                is_another = was_primed and held is not None and now not in (None, held)
                if is_another and number not in apart:
                    last, is_primed, was_primed = number, False, False
                    unsaid.add(number)
                held = held if now is None or (is_another and number in apart) else now
            case _:
                pass
    return Replaced(last=last, unsaid=frozenset(unsaid))
