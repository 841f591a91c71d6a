"""The whole study as many small tasks, which any number of processes may share, and what they add up to."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction

from app.review.coverage import NONE_TRIED, Condition, Covered, Tried, cover
from app.review.errors import Error
from app.review.mixes import MIXES
from app.review.study import Assumed, Caught, Drawn, Way, catch, stopped_for_nothing
from app.review.true_cases import Against

_CHUNK = 250
NO_ERROR = "no-error"
_NONE_CAUGHT = Caught(made=0, by=dict.fromkeys(Way, 0))


@dataclass(frozen=True, kw_only=True)
class Study:
    """What is asked of a study: its seed, how many draws of each kind and mix, and how many estimates.

    `errors`: how many there are in the checks that one estimate is made from. `assumed.shared` is how often
    one cause rules both readers in the half of the study in which there is one.
    """

    seed: str
    draws: int
    estimates: int
    errors: int
    assumed: Assumed


Task = Drawn | Tried
Key = tuple[str, Fraction]
"""The name of a row, and how often one cause ruled both readers."""


@dataclass(frozen=True, kw_only=True)
class Findings:
    """What a study found: rows by kind of error and by mix, checks stopped for nothing, and estimates."""

    caught: Mapping[Key, Caught]
    covered: Mapping[Condition, Covered]


def tasks(study: Study) -> Iterator[Task]:
    """All of a study, in small pieces."""
    kinds = {error.value: {error: 1} for error in Error}
    mixes = {mix.name: mix.weights for mix in MIXES}
    for shared in (Fraction(0), study.assumed.shared):
        for name, weights in {**kinds, **mixes, NO_ERROR: {}}.items():
            yield from _drawn(study, name, weights, shared)
        for equal in (True, False):
            yield from _tried(study, Condition(equal=equal, shared=shared))


def _drawn(study: Study, name: str, weights: Mapping[Error, int], shared: Fraction) -> Iterator[Drawn]:
    for first, end in _pieces(study.draws):
        assumed = replace(study.assumed, shared=shared)
        yield Drawn(name=name, weights=weights, seed=study.seed, first=first, end=end, assumed=assumed)


def _tried(study: Study, condition: Condition) -> Iterator[Tried]:
    for first, end in _pieces(study.estimates):
        yield Tried(condition=condition, seed=study.seed, first=first, end=end, errors=study.errors)


def _pieces(whole: int) -> Iterator[tuple[int, int]]:
    return ((first, min(first + _CHUNK, whole)) for first in range(0, whole, _CHUNK))


def run(task: Task, against: Against) -> Findings:
    """What one task comes to."""
    if isinstance(task, Tried):
        return Findings(caught={}, covered={task.condition: cover(task)})
    judge = stopped_for_nothing if task.name == NO_ERROR else catch
    return Findings(caught={(task.name, task.assumed.shared): judge(task, against)}, covered={})


def add_up(found: Iterable[Findings]) -> Findings:
    """What all tasks come to together, in whatever pieces they were done."""
    caught: dict[Key, Caught] = {}
    covered: dict[Condition, Covered] = {}
    for each in found:
        for key, more in each.caught.items():
            caught[key] = caught.get(key, _NONE_CAUGHT) + more
        for condition, tried in each.covered.items():
            covered[condition] = covered.get(condition, NONE_TRIED) + tried
    return Findings(caught=caught, covered=covered)
