"""The life of a check as data: what may be done in which phase, and which phase can follow which.

`LIFE.md` is drawn from these two tables, and the tests fail when they differ.
"""

from enum import StrEnum

from app.records.state import Phase


class Action(StrEnum):
    """What a person, or the site by itself, does to a check."""

    JOIN = "join"
    READ = "read and hand in"
    SAY_DANGER = "say that something is dangerous"
    COMPARE = "compare (the site)"
    READ_AGAIN = "read again"
    ACKNOWLEDGE = "acknowledge a caution"
    ASK_FOR_HELP = "ask for help"
    TAKE_HELP = "take a request for help"
    SETTLE_HELP = "settle a request for help"
    GRANT_EXCEPTION = "grant an exception"
    CONFIRM_STEPS = "confirm safety steps"
    OBSERVE_BASELINE = "observe the baseline"
    READ_PRIMED_VOLUME = "read the primed volume"
    SIGN = "sign"
    LAST_LOOK = "take a last look"
    START = "start"
    ABANDON = "abandon"
    NOTE_STOP = "note that the device was stopped"


_UNREAD = frozenset({Phase.OPENED, Phase.READING, Phase.BOTH_HANDED_IN})
_UNSETTLED = frozenset({Phase.DISPUTED, Phase.ESCALATED})
BEFORE_CLEARANCE = _UNREAD | _UNSETTLED | {Phase.AGREED, Phase.STEPS, Phase.SIGNING}

WHEN: dict[Action, frozenset[Phase]] = {
    Action.JOIN: frozenset({Phase.OPENED}),
    # Whoever opened may read before the second has joined: on one shared device that is the only order.
    Action.READ: frozenset({Phase.OPENED, Phase.READING}),
    Action.SAY_DANGER: _UNREAD,
    Action.COMPARE: frozenset({Phase.BOTH_HANDED_IN}),
    Action.READ_AGAIN: frozenset(
        {Phase.DISPUTED, Phase.AGREED, Phase.STEPS, Phase.SIGNING, Phase.CLEARED, Phase.LAPSED}
    ),
    Action.ACKNOWLEDGE: frozenset({Phase.AGREED}),
    Action.ASK_FOR_HELP: BEFORE_CLEARANCE,
    Action.TAKE_HELP: BEFORE_CLEARANCE,
    Action.SETTLE_HELP: BEFORE_CLEARANCE,
    Action.GRANT_EXCEPTION: frozenset({Phase.ESCALATED}),
    # Before the safety steps are reached, only those that the plan lets be confirmed early.
    Action.CONFIRM_STEPS: _UNREAD | _UNSETTLED | {Phase.AGREED, Phase.STEPS},
    Action.OBSERVE_BASELINE: frozenset({Phase.STEPS}),
    Action.READ_PRIMED_VOLUME: _UNREAD | _UNSETTLED | {Phase.AGREED, Phase.STEPS},
    Action.SIGN: frozenset({Phase.SIGNING}),
    Action.LAST_LOOK: frozenset({Phase.CLEARED}),
    Action.START: frozenset({Phase.CLEARED}),
    # A clearance that lapsed holds the bed as well, when both have left.
    Action.ABANDON: BEFORE_CLEARANCE | {Phase.LAPSED},
    Action.NOTE_STOP: frozenset(Phase),
}


def may_be_done(action: Action, phase: Phase) -> bool:
    """Whether the phase allows the action; who may do it is another question."""
    return phase in WHEN[action]


# What follows a phase, and why; a phase also stays while nothing of this happens.
FOLLOWS: dict[Phase, dict[Phase, str]] = {
    Phase.OPENED: {
        Phase.READING: "the second has joined",
        Phase.ABANDONED: "abandoned",
    },
    Phase.READING: {
        Phase.BOTH_HANDED_IN: "both have handed in",
        Phase.ABANDONED: "abandoned",
    },
    Phase.BOTH_HANDED_IN: {
        Phase.DISPUTED: "compared: a stop",
        Phase.ESCALATED: "compared: a stop, and help was asked for",
        Phase.AGREED: "compared: no stop, a caution not yet acknowledged by both",
        Phase.STEPS: "compared: no stop, no caution",
        Phase.READING: "voided: someone saw danger",
        Phase.ABANDONED: "abandoned",
    },
    Phase.DISPUTED: {
        Phase.READING: "the next reading",
        Phase.ESCALATED: "help was asked for",
        Phase.ABANDONED: "abandoned",
    },
    Phase.ESCALATED: {
        Phase.DISPUTED: "help settled: read again, or go on",
        Phase.AGREED: "the last stop was set aside, a caution not yet acknowledged",
        Phase.STEPS: "the last stop was set aside",
        Phase.ABANDONED: "abandoned",
    },
    Phase.AGREED: {
        Phase.STEPS: "every caution acknowledged by both",
        Phase.READING: "a source was put right",
        Phase.ABANDONED: "abandoned",
    },
    Phase.STEPS: {
        Phase.SIGNING: "all steps confirmed, the record is frozen",
        Phase.READING: "a source was put right",
        Phase.ABANDONED: "abandoned",
    },
    Phase.SIGNING: {
        Phase.CLEARED: "both have signed",
        Phase.READING: "a source was put right",
        Phase.ABANDONED: "abandoned",
    },
    Phase.CLEARED: {
        Phase.STARTED: "started after both last looks",
        Phase.LAPSED: "the site's time ran out, or a last look differed",
        Phase.READING: "the device was touched",
    },
    Phase.LAPSED: {
        Phase.READING: "the next reading of the device",
        Phase.ABANDONED: "abandoned",
    },
    Phase.STARTED: {},
    Phase.ABANDONED: {},
}
