"""What each of the two caught: what their own readings alone show.

The engine is asked of a case in which one of the two has read for both. An error counts as caught by somebody
where it then stops on the field that it is about, and where a third person has not said that they misread it:
a slip of the reader would otherwise count as an error that they had found.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from app.comparison import CaseError, Severity, evaluate, read_case
from app.records.kept import LETTERS, A, B
from app.records.sources import Source
from app.review.missed import Caught


@dataclass(frozen=True, kw_only=True)
class Classified:
    """A finding of a first round that a third person classified: the case, the field, and who misread it.

    `misread` are the letters of those; none where both read what stood there.
    """

    case: Mapping[str, Any]
    field: str
    misread: str


@dataclass(frozen=True, kw_only=True)
class CaughtByEach:
    """What each caught of the errors behind some findings.

    `slips` are findings that nobody's readings alone show once those who misread are left out: somebody read
    or typed wrong, and nothing was wrong behind it.
    """

    caught: Caught
    slips: int


def caught_by_each(findings: Iterable[Classified]) -> CaughtByEach:
    """How many errors the first caught, the second and both, and how many findings were mere slips."""
    first = second = both = slips = 0
    for each in findings:
        by_first, by_second = (
            letter not in each.misread and shown_alone(each.case, letter, each.field) for letter in (A, B)
        )
        first, second, both = first + by_first, second + by_second, both + (by_first and by_second)
        slips += not (by_first or by_second)
    return CaughtByEach(caught=Caught(first=first, second=second, both=both), slips=slips)


def shown_alone(case: Mapping[str, Any], letter: str, field: str) -> bool:
    """Whether what one of the two read, read so by both, is stopped on a field."""
    own = case["entries"][LETTERS.index(letter)]
    entries = [{**own, "clinician": name} for name in LETTERS]
    read = read_case({**case, **_asked_of(case, own), "entries": entries})
    if isinstance(read, CaseError):
        message = f"a compared case cannot be read for one alone: {read.path}: {read.code}"
        raise ValueError(message)  # noqa: TRY004  # it is not about a type: only a bug comes here
    findings = evaluate(read).findings
    return any(each.field == field and each.severity is Severity.STOP for each in findings)


def _asked_of(case: Mapping[str, Any], own: Mapping[str, Any]) -> dict[str, Any]:
    """What was asked of this one: what the other alone read is not, and what this one alone read is."""
    if "reads" not in case:
        return {}
    names = (each if isinstance(each, str) else each["is"] for each in case["reads"])
    return {"reads": [name for name in names if name == Source.WRISTBAND or name in own]}
