"""What was taken back of a syringe that was replaced, a line for each reading of a volume."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime

from app.records.taken_back import TakenBack, standing
from app.reports.times import day_in_words
from app.words.taken_back import taken_back_words


@dataclass(frozen=True, kw_only=True)
class TakenBackShown:
    """One line of what was written, by whom and when."""

    words: str
    by: str
    at: datetime
    stands: bool


def taken_back_shown(taken: Iterable[TakenBack], names: Mapping[str, str]) -> Iterator[TakenBackShown]:
    """Everything that was written, in order."""
    each_of = tuple(taken)
    stands = standing(each_of)
    for each in each_of:
        words = taken_back_words(
            vars(each),
            witness=names.get(each.witness, each.witness),
            stated=day_in_words(each.stated_at),
            stands=each.position in stands,
        )
        yield TakenBackShown(
            words=words, by=names.get(each.by, each.by), at=each.at, stands=each.position in stands
        )
