"""How a request for help is settled, and what both read again then: one table, one row an outcome."""

from dataclasses import dataclass
from enum import Enum

from app.records.asked_help import Help
from app.records.kind import Kind
from app.records.sources import Source
from app.records.state import BLIND, CheckState


class Then(Enum):
    """What follows an outcome at once."""

    READ = "both read the sources of the row again, all of each"
    READ_WHAT_DIFFERS = "both read again what they read differently"
    GO_ON = "the two go on from where they are"
    END = "the check ends"


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """One of them.

    `put_right` is the source that another hand has been at, and `besides` are those that may have been
    another's until then. `in_words`: what was done has no word of its own, and whoever helped writes it.
    """

    name: str
    then: Then
    put_right: Source | None = None
    besides: tuple[Source, ...] = ()
    in_words: bool = False


OUTCOMES: tuple[Outcome, ...] = (
    Outcome(name="order-clarified", then=Then.READ, put_right=Source.ORDER),
    Outcome(name="syringe-returned", then=Then.READ, put_right=Source.LABEL),
    Outcome(name="device-reprogrammed", then=Then.READ, put_right=Source.DEVICE),
    Outcome(
        name="identity-resolved",
        then=Then.READ,
        put_right=Source.WRISTBAND,
        # Chart, order and label name a patient too.
        besides=(Source.CHART, Source.ORDER, Source.LABEL),
    ),
    Outcome(name="exception-granted", then=Then.GO_ON),
    Outcome(name="read-again", then=Then.READ_WHAT_DIFFERS),
    Outcome(name="other", then=Then.GO_ON, in_words=True),
    Outcome(name="abandon", then=Then.END),
)
NAMED = {each.name: each for each in OUTCOMES}


def outcomes_of(state: CheckState) -> tuple[Outcome, ...]:
    """Those that fit a check whose request for help is open."""
    asked = state.open_help
    return tuple(each for each in OUTCOMES if asked and _fits(each, state, asked))


def _fits(outcome: Outcome, state: CheckState, asked: Help) -> bool:
    if outcome.then is Then.READ:
        return bool(read_after(outcome, state.kind))
    if outcome.then is Then.READ_WHAT_DIFFERS:
        return state.phase not in BLIND and state.must_read_again
    return outcome.name != "exception-granted" or any(
        each.by in asked.takers and each.at >= asked.asked_at for each in state.exemptions
    )


def read_after(outcome: Outcome, kind: Kind) -> tuple[Source, ...]:
    """The sources that both read again, all of each: none in a kind in which the first is not put right."""
    if outcome.put_right not in kind.put_right:
        return ()
    named = (outcome.put_right, *outcome.besides)
    return tuple(each for each in Source if each in named and each in kind.put_right)
