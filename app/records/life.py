"""The life of a check as data: what may be done in which phase, and which phase can follow which.

Both tables hold for every kind; a row may be of some kinds alone, and each kind has the phases that it can
reach. `LIFE.md` is drawn from the life of each kind, and the tests fail when they differ.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from app.records.kinds import KINDS, End, Kind
from app.records.sources import JudgedBy
from app.records.state import CheckState, Phase
from app.records.steps import BASELINE, PRIMED_VOLUME, TAKEN_BACK


class Action(StrEnum):
    """What a person, or the site by itself, does to a check."""

    JOIN = "join"
    READ = "read and hand in"
    SAY_DANGER = "say that something is dangerous"
    COMPARE = "compare (the site)"
    READ_AGAIN = "read again"
    RECOUNT = "count together once more"
    ACKNOWLEDGE = "acknowledge a caution"
    ASK_FOR_HELP = "ask for help"
    TAKE_HELP = "take a request for help"
    SETTLE_HELP = "settle a request for help"
    GRANT_EXCEPTION = "grant an exception"
    CONFIRM_STEPS = "confirm safety steps"
    OBSERVE_BASELINE = "observe the baseline"
    READ_PRIMED_VOLUME = "read the primed volume"
    TAKE_BACK = "write down the drug taken back"
    SIGN = "sign"
    LAST_LOOK = "take a last look"
    START = "start"
    LEAD_ON = "lead on to another check"
    ABANDON = "abandon"
    NOTE_STOP = "note that the device was stopped"


@dataclass(frozen=True, kw_only=True)
class Life:
    """The life of one kind.

    `follows` has each of its phases, and what follows it, and why; a phase also stays while nothing of this
    happens.
    """

    when: Mapping[Action, frozenset[Phase]]
    follows: Mapping[Phase, Mapping[Phase, str]]


def _any(_kind: Kind) -> bool:
    return True


def _has_steps(kind: Kind) -> bool:
    return bool(kind.plans)


def _writes(entry: str) -> "_Of":
    """The kinds whose steps write this down."""
    return lambda kind: entry in kind.entries


def _has_no_steps(kind: Kind) -> bool:
    return not kind.plans


def _is_cleared(kind: Kind) -> bool:
    return kind.end is End.CLEARED


def _is_done(kind: Kind) -> bool:
    return kind.end is End.DONE


def _puts_right(kind: Kind) -> bool:
    return bool(kind.put_right)


def _has_an_account(kind: Kind) -> bool:
    return JudgedBy.ACCOUNT in kind.judges


def _leads_on(kind: Kind) -> bool:
    return bool(kind.leads_to)


_Of = Callable[[Kind], bool]

_UNREAD = frozenset({Phase.OPENED, Phase.READING, Phase.BOTH_HANDED_IN})
_UNSETTLED = frozenset({Phase.DISPUTED, Phase.ESCALATED})
_SETTLED = frozenset({Phase.AGREED, Phase.STEPS, Phase.SIGNING})
_BEFORE_THE_END = _UNREAD | _UNSETTLED | _SETTLED
_EVERY = frozenset(Phase)

_WHEN: tuple[tuple[Action, frozenset[Phase], _Of], ...] = (
    (Action.JOIN, frozenset({Phase.OPENED}), _any),
    # Whoever opened may read before the second has joined: on one shared device that is the only order.
    (Action.READ, frozenset({Phase.OPENED, Phase.READING}), _any),
    (Action.SAY_DANGER, _UNREAD, _any),
    (Action.COMPARE, frozenset({Phase.BOTH_HANDED_IN}), _any),
    (Action.READ_AGAIN, frozenset({Phase.DISPUTED}), _any),
    (Action.READ_AGAIN, _SETTLED | {Phase.CLEARED, Phase.LAPSED}, _puts_right),
    (Action.RECOUNT, frozenset({Phase.AGREED}), _has_an_account),
    (Action.ACKNOWLEDGE, frozenset({Phase.AGREED}), _any),
    (Action.ASK_FOR_HELP, _BEFORE_THE_END, _any),
    (Action.TAKE_HELP, _BEFORE_THE_END, _any),
    (Action.SETTLE_HELP, _BEFORE_THE_END, _any),
    (Action.GRANT_EXCEPTION, frozenset({Phase.ESCALATED}), _any),
    # Before the safety steps are reached, only those that the plan lets be confirmed early.
    (Action.CONFIRM_STEPS, _UNREAD | _UNSETTLED | {Phase.AGREED, Phase.STEPS}, _has_steps),
    (Action.OBSERVE_BASELINE, frozenset({Phase.STEPS}), _writes(BASELINE)),
    (
        Action.READ_PRIMED_VOLUME,
        _UNREAD | _UNSETTLED | {Phase.AGREED, Phase.STEPS},
        _writes(PRIMED_VOLUME),
    ),
    # Not while the two read alone; a mistake in it is put right to the end and after it.
    (
        Action.TAKE_BACK,
        _SETTLED | {Phase.CLEARED, Phase.LAPSED, Phase.STARTED, Phase.ABANDONED},
        _writes(TAKEN_BACK),
    ),
    (Action.SIGN, frozenset({Phase.SIGNING}), _any),
    (Action.LAST_LOOK, frozenset({Phase.CLEARED}), _is_cleared),
    (Action.START, frozenset({Phase.CLEARED}), _is_cleared),
    (Action.LEAD_ON, _UNSETTLED | _SETTLED, _leads_on),
    # A clearance that lapsed holds the bed as well, when both have left.
    (Action.ABANDON, _BEFORE_THE_END | {Phase.LAPSED}, _any),
    (Action.NOTE_STOP, _EVERY, _any),
)

_STOPPED = "the device was stopped for the patient: the baseline anew, then a new edition"

_FOLLOWS: tuple[tuple[Phase, Phase, str, _Of], ...] = (
    (Phase.OPENED, Phase.READING, "the second has joined", _any),
    (Phase.READING, Phase.BOTH_HANDED_IN, "both have handed in", _any),
    (Phase.BOTH_HANDED_IN, Phase.DISPUTED, "compared: a stop", _any),
    (Phase.BOTH_HANDED_IN, Phase.ESCALATED, "compared: a stop, and help was asked for", _any),
    (
        Phase.BOTH_HANDED_IN,
        Phase.AGREED,
        "compared: no stop, a caution not yet acknowledged by both",
        _any,
    ),
    (Phase.BOTH_HANDED_IN, Phase.STEPS, "compared: no stop, no caution", _has_steps),
    (Phase.BOTH_HANDED_IN, Phase.SIGNING, "compared: no stop, no caution", _has_no_steps),
    (
        Phase.BOTH_HANDED_IN,
        Phase.READING,
        "voided: someone saw danger, or who helped had it put right meanwhile",
        _any,
    ),
    (Phase.DISPUTED, Phase.READING, "the next reading", _any),
    (Phase.DISPUTED, Phase.ESCALATED, "help was asked for", _any),
    (Phase.ESCALATED, Phase.DISPUTED, "help settled, and nothing is read again for it", _any),
    (Phase.ESCALATED, Phase.READING, "help settled, and the next reading opened with it", _any),
    (Phase.ESCALATED, Phase.AGREED, "the last stop was set aside, a caution not yet acknowledged", _any),
    (Phase.ESCALATED, Phase.STEPS, "the last stop was set aside", _has_steps),
    (Phase.ESCALATED, Phase.SIGNING, "the last stop was set aside", _has_no_steps),
    (Phase.AGREED, Phase.STEPS, "every caution acknowledged by both", _has_steps),
    (Phase.AGREED, Phase.SIGNING, "every caution acknowledged by both", _has_no_steps),
    (Phase.AGREED, Phase.READING, "a source was put right", _puts_right),
    (Phase.AGREED, Phase.READING, "what does not add up is counted once more, together", _has_an_account),
    (Phase.STEPS, Phase.SIGNING, "all steps confirmed, the record is frozen", _any),
    (Phase.STEPS, Phase.READING, "a source was put right", _puts_right),
    (Phase.SIGNING, Phase.CLEARED, "both have signed", _is_cleared),
    (Phase.SIGNING, Phase.DONE, "both have signed", _is_done),
    (Phase.SIGNING, Phase.READING, "a source was put right", _puts_right),
    (Phase.SIGNING, Phase.STEPS, f"{_STOPPED}; the same where the drug taken back is put right", _has_steps),
    (Phase.CLEARED, Phase.STARTED, "started after both last looks", _any),
    (Phase.CLEARED, Phase.LAPSED, "the site's time ran out, or a last look differed", _any),
    (Phase.CLEARED, Phase.READING, "the device was touched", _any),
    (Phase.CLEARED, Phase.STEPS, _STOPPED, _has_steps),
    (Phase.LAPSED, Phase.READING, "the next reading of the device", _any),
    (Phase.LAPSED, Phase.STEPS, _STOPPED, _has_steps),
    *(
        (phase, Phase.LED, "what was found or changed needs another check", _leads_on)
        for phase in Phase
        if phase in _UNSETTLED | _SETTLED
    ),
    *(
        (phase, Phase.ABANDONED, "abandoned", _any)
        for phase in Phase
        if phase in _BEFORE_THE_END | {Phase.LAPSED}
    ),
)


def _life_of(kind: Kind) -> Life:
    follows = _follows(kind)
    when: dict[Action, frozenset[Phase]] = {}
    for action, phases, of in _WHEN:
        if of(kind):
            when[action] = when.get(action, frozenset()) | (phases & follows.keys())
    return Life(when=when, follows=follows)


def _follows(kind: Kind) -> dict[Phase, dict[Phase, str]]:
    """Each phase that the kind can reach, and what follows it."""
    rows = [(before, then, why) for before, then, why, of in _FOLLOWS if of(kind)]
    reached = {Phase.OPENED}
    while further := {then for before, then, _ in rows if before in reached} - reached:
        reached |= further
    follows: dict[Phase, dict[Phase, str]] = {phase: {} for phase in Phase if phase in reached}
    for before, then, why in rows:
        if before in reached:
            also = follows[before].get(then)
            follows[before][then] = f"{also}; or {why}" if also else why
    return follows


LIVES: dict[str, Life] = {kind.name: _life_of(kind) for kind in KINDS.values()}


def may_be_done(action: Action, state: CheckState) -> bool:
    """Whether the kind and the phase allow the action; who may do it is another question."""
    return state.phase in LIVES[state.check.kind].when.get(action, ())
