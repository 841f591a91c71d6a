"""The page on which the drug that was taken back is written down."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime

from app.records.taken_back import TakenBack, standing
from app.web.models.check import Head, head_of
from app.web.models.stepping import figures_of
from app.words.taken_back import taken_back_words
from app.workflow.looking import Seen


@dataclass(frozen=True, kw_only=True)
class TakenBackShown:
    """One line of what was written, by whom and when."""

    words: str
    by: str
    at: datetime


@dataclass(frozen=True, kw_only=True)
class TakeBackPage:
    """What the line still holds, what was written before, and the position of the last of it."""

    head: Head
    held: str
    written: tuple[TakenBackShown, ...]
    last: int


def take_back_page(seen: Seen) -> TakeBackPage:
    """The page for one of the two."""
    taken = seen.loaded.state.taken_back
    return TakeBackPage(
        head=head_of(seen),
        held=figures_of(seen).get("old_line", ""),
        written=tuple(taken_back_shown(taken, seen.names)),
        last=max((each.position for each in taken), default=0),
    )


def taken_back_shown(taken: Iterable[TakenBack], names: Mapping[str, str]) -> Iterator[TakenBackShown]:
    """Everything that was written, in order."""
    each_of = tuple(taken)
    stands = standing(each_of)
    for each in each_of:
        words = taken_back_words(
            held_in=each.held_in,
            way=each.way,
            typed=each.volume,
            lot=each.lot,
            witness=names.get(each.witness, each.witness),
            received=each.received,
            stands=each.position in stands,
        )
        yield TakenBackShown(words=words, by=names.get(each.by, each.by), at=each.at)
