"""The engine's part in the judging of a round: its case, and what it comes to."""

import re
from copy import deepcopy
from typing import Any

from app.comparison import Case, CaseError, Finding, Result, evaluate, evaluate_primed, read_case

_READ_BEFORE = re.compile(r"(?:entries\[([01])\]|(previous|order_of_record|patient))\.(.+)")


def evaluated(case: dict[str, Any]) -> tuple[dict[str, Any], Result]:
    """The engine's result; a value that it cannot read is taken out, and becomes a reading that is missing.

    The forms refuse such values at once; a rule may become stricter between draft and comparison.
    """
    case, read = _read(case)
    return case, evaluate(read)


def primed_evaluated(
    case: dict[str, Any], clinician: str
) -> tuple[tuple[Finding, ...], dict[str, str] | None]:
    """What of the engine's result is about the primed volume: findings, and what one's readings come to."""
    # What the library lists has no say in it.
    findings, drug = evaluate_primed(_read({**case, "library": None})[1], clinician)
    return findings, None if drug is None else drug.as_json()


def _read(given: dict[str, Any]) -> tuple[dict[str, Any], Case]:
    case = given
    while True:
        read = read_case(case)
        if not isinstance(read, CaseError):
            return case, read
        # What was given stays as it is: it may be what is kept.
        case = deepcopy(case) if case is given else case
        _take_out(case, read)


def _take_out(case: dict[str, Any], error: CaseError) -> None:
    matched = _READ_BEFORE.fullmatch(error.path)
    if matched is None:
        message = f"the case cannot be read: {error.path}: {error.code}"
        raise ValueError(message)
    entry_of, known, inside = matched.groups()
    place: dict[str, Any] = case[known] if known else case["entries"][int(entry_of)]
    # What stands in a list is right only as a whole.
    *parents, last = inside.partition("[")[0].split(".")
    for parent in parents:
        place = place[parent]
    del place[last]
