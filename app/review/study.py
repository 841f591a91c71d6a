"""A study by simulation: what share of errors each way of checking catches.

A reader reads what stands there, or what they expect; who reads what stands there may notice that it is
wrong. How often they do both is published for some errors. With the engine the two hand in what they read,
and the real engine says what it finds in it: its share is measured, not assumed. What is a stop counts as
caught; a caution does not.
"""

import json
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction

from app.comparison import CaseError, Severity, evaluate, read_case
from app.review.draws import Draws
from app.review.errors import UNSEEN_BY_THE_ENGINE, Error, misread, with_error
from app.review.mixes import ALONE, EXPECTS, LED, MISREAD
from app.review.true_cases import Against, Sources, case_of, draw_ordered, true_sources


class Way(StrEnum):
    """The ways of checking."""

    ONE = "one"
    PRIMED = "two-primed"
    BLIND = "two-blind"
    ENGINE = "two-blind-with-engine"


@dataclass(frozen=True, kw_only=True)
class Assumed:
    """What the study assumes of readers: how often they expect, are led, and share a cause."""

    expects: Fraction = EXPECTS.share
    led: Fraction = LED.share
    shared: Fraction = Fraction(0)
    misread: Fraction = MISREAD.share


@dataclass(frozen=True, kw_only=True)
class Drawn:
    """Errors of these weights, from one number to before another: each is drawn by its own number alone.

    So the same are drawn however they are shared out among processes.
    """

    name: str
    weights: Mapping[Error, int]
    seed: str
    first: int
    end: int
    assumed: Assumed


@dataclass(frozen=True, kw_only=True)
class Caught:
    """How many errors were made, and how many each way caught."""

    made: int
    by: Mapping[Way, int]

    def __add__(self, other: "Caught") -> "Caught":
        return Caught(made=self.made + other.made, by={way: self.by[way] + other.by[way] for way in self.by})


@dataclass(frozen=True, kw_only=True)
class _Reader:
    """Whether somebody reads what stands there, and whether they then notice."""

    reads: bool
    notices: bool


@dataclass
class Engine:
    """The engine, asked once of each case: few differ, as errors and readers are few."""

    against: Against
    _known: dict[str, bool] = field(default_factory=dict)

    def stops(self, first: Sources, second: Sources) -> bool:
        """Whether two who read so are stopped."""
        case = case_of(first, second, self.against)
        key = json.dumps(case["entries"], sort_keys=True)
        if key not in self._known:
            read = read_case(case)
            if isinstance(read, CaseError):
                message = f"the study made a case that cannot be read: {read.path}: {read.code}"
                raise ValueError(message)
            self._known[key] = any(each.severity is Severity.STOP for each in evaluate(read).findings)
        return self._known[key]


def catch(drawn: Drawn, against: Against) -> Caught:
    """What each way catches of the errors drawn."""
    engine, by = Engine(against), Counter[Way]()
    for number in range(drawn.first, drawn.end):
        by.update(_caught(drawn, Draws(f"{drawn.seed} {drawn.name} {number}"), engine))
    return Caught(made=drawn.end - drawn.first, by={way: by[way] for way in Way})


def _caught(drawn: Drawn, draws: Draws, engine: Engine) -> Iterator[Way]:
    error, ordered = draws.weighted(drawn.weights), draw_ordered(draws)
    first, second = _readers(error, drawn.assumed, draws)
    is_led = draws.happens(drawn.assumed.led)
    stands, expected = with_error(error, ordered, draws), true_sources(ordered)
    if first.notices:
        yield Way.ONE
    if first.notices or (second.notices and not is_led):
        yield Way.PRIMED
    notice = first.notices or second.notices
    if notice:
        yield Way.BLIND
    read = [stands if each.reads else expected for each in (first, second)]
    if notice or (error not in UNSEEN_BY_THE_ENGINE and engine.stops(*read)):
        yield Way.ENGINE


def _readers(error: Error, assumed: Assumed, draws: Draws) -> tuple[_Reader, _Reader]:
    first, second = _reader(error, assumed, draws), _reader(error, assumed, draws)
    return (first, first if draws.happens(assumed.shared) else second)


def _reader(error: Error, assumed: Assumed, draws: Draws) -> _Reader:
    """Who notices has read what stands there; together they are as likely as is published of one alone."""
    reads = not draws.happens(assumed.expects)
    most = 1 - assumed.expects
    noticing = min(Fraction(1), ALONE[error].share / most) if most else Fraction(0)
    return _Reader(reads=reads, notices=draws.happens(noticing) and reads)


def stopped_for_nothing(drawn: Drawn, against: Against) -> Caught:
    """How many checks without an error the engine stops, as one of the two got a number wrong."""
    engine, stopped = Engine(against), 0
    for number in range(drawn.first, drawn.end):
        draws = Draws(f"{drawn.seed} {drawn.name} {number}")
        true = true_sources(draw_ordered(draws))
        read = [misread(true, draws) if draws.happens(drawn.assumed.misread) else true for _ in range(2)]
        stopped += engine.stops(*read)
    return Caught(made=drawn.end - drawn.first, by={**dict.fromkeys(Way, 0), Way.ENGINE: stopped})
