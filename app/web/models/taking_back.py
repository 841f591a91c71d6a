"""The page on which the drug that was taken back is written down."""

from dataclasses import dataclass
from datetime import datetime

from app.records.state import CheckState, Phase
from app.records.taken_back import FirstRead
from app.web.models.check import Head, head_of
from app.web.models.stepping import figures_of
from app.web.models.taken_back import TakenBackShown, taken_back_shown
from app.words.taken_back import WAYS, kept_words
from app.workflow.looking import Seen
from app.workflow.taking_back import is_perhaps_to_write, may_write
from app.workflow.witnessing import WITHIN


@dataclass(frozen=True, kw_only=True)
class TakeBackPage:
    """What the line still holds, what was written before, and what it changes to write it anew.

    `last` is the position of what was written last. `perhaps` is said where nobody has said that a syringe
    was replaced: whoever writes says so. `ends`: it is what was left at the end of PCA. `waiting` is what
    waits for a witness, and never how much. `kept` is said where all that was left is kept as evidence.
    """

    head: Head
    held: str
    perhaps: str
    written: tuple[TakenBackShown, ...]
    changes: str
    last: int
    ends: bool
    kept: str
    waiting: "WaitingShown | None"


@dataclass(frozen=True, kw_only=True)
class WaitingShown:
    """What became of which syringe, who read it first, and until when a witness counts.

    `is_rest`: all that was left of it goes, and nothing was spilt. `is_kept`: nothing goes, it is kept.
    """

    became: str
    syringe: str
    lot: str
    by: str
    until: datetime
    again: bool
    is_rest: bool = True
    is_kept: bool = False


@dataclass(frozen=True, kw_only=True)
class TakenBackBlock:
    """What was written, on the page of its check, and what leads to writing it, if this person may."""

    written: tuple[TakenBackShown, ...]
    link: str


_ANOTHER = "Another syringe of this infusion is still in hand: read what is left in it, too, by its lot."
_COUNTS = "What you write now counts instead; both stay on the record."
_CHANGES = {
    Phase.SIGNING: f"{_COUNTS} Your colleague verifies it anew, and both sign the new edition.",
    **dict.fromkeys(
        (Phase.CLEARED, Phase.LAPSED, Phase.STARTED),
        "What you write now counts instead. The signed record stays as it is; what followed it says so.",
    ),
    Phase.ABANDONED: "What you write now counts instead; both stay in the log.",
}


def take_back_page(seen: Seen, waiting: FirstRead | None, *, kept: tuple[str, ...]) -> TakeBackPage:
    """The page for one of the two; `kept` are the lots of what is kept as evidence, where nothing goes."""
    state = seen.loaded.state
    return TakeBackPage(
        head=head_of(seen),
        held=figures_of(seen).get("old_line", ""),
        perhaps=_perhaps(state),
        written=tuple(taken_back_shown(state.taken_back, seen.names)),
        changes=_changes(state),
        last=max((each.position for each in state.taken_back), default=0),
        ends=state.kind.ends,
        kept=kept_words(kept) if kept else "",
        waiting=_waiting(seen, waiting, is_kept=bool(kept)) if waiting else None,
    )


def _changes(state: CheckState) -> str:
    if state.kind.ends:
        return _ANOTHER
    return "" if is_perhaps_to_write(state) else _CHANGES.get(state.phase, _COUNTS)


def _waiting(seen: Seen, first: FirstRead, *, is_kept: bool) -> WaitingShown:
    return WaitingShown(
        became=WAYS[first.way],
        syringe=first.syringe,
        lot=first.lot,
        by=seen.names.get(first.by, ""),
        until=first.at + WITHIN,
        again=first.reading > 1,
        is_kept=is_kept,
    )


def _perhaps(state: CheckState) -> str:
    if not is_perhaps_to_write(state):
        return ""
    due = "" if state.abandoned else ": what was done with the old one is then due again"
    return f"Only where another syringe was put on when danger was seen{due}."


def taken_back_block(seen: Seen) -> TakenBackBlock:
    """The same as the page of the check and its record show it."""
    state = seen.loaded.state
    written = tuple(taken_back_shown(state.taken_back, seen.names))
    link = "Put it right" if written else "Write down what was taken back"
    if state.kind.ends:
        link = "Read what is left, with a witness"
    if is_perhaps_to_write(state):
        link = "If a syringe was replaced: write down what was taken back"
    return TakenBackBlock(written=written, link=link if seen.slot is not None and may_write(state) else "")
