"""JSON, or the objects that it stands for -> a case, or the first thing that is wrong with it."""

from collections.abc import Sequence
from fractions import Fraction

from app.accounting.case import AccountCase, Entry
from app.accounting.entry_reader import Reading, at_of, finest_step, read_entry
from app.accounting.misplaced import LONGEST, refuse_misplaced
from app.accounting.policy_reader import read_policy
from app.comparison.case import CaseError
from app.comparison.documents import (
    WHOLE,
    Node,
    Quantities,
    RefusedError,
    get,
    load,
    node,
    refuse,
    text,
)
from app.records.formats import ACCOUNT

_CASE_KEYS = frozenset({"format", "policy", "now", "entries"})


def read_account(given: object) -> AccountCase | CaseError:
    """The case that a JSON text (str or bytes), or the object that it stands for, describes."""
    try:
        return _case(load(given) if isinstance(given, str | bytes) else given)
    except RefusedError as refused:
        return refused.error


def _case(given: object) -> AccountCase:
    """Reads the parts in the order in which CONTRACT.md names them, and then looks at the places."""
    case = node(given, WHOLE, _CASE_KEYS)
    if text(get(case, WHOLE, "format"), "format") != ACCOUNT.newest:
        refuse("format", "unknown-format", f"This must be {ACCOUNT.newest}.")
    reading = Reading(quantities=Quantities(), shown=[])
    policy = read_policy(case, reading.quantities)
    now = _find_now(case)
    entries = _entries(case, reading)
    refuse_misplaced(entries)
    if now is not None:
        _refuse_now(now, entries)
    return AccountCase(
        policy=policy,
        now=now,
        entries=entries,
        finest_amount=finest_step(reading, "amount"),
        finest_volume=finest_step(reading, "volume"),
    )


def _find_now(case: Node) -> Fraction | None:
    value = case.get("now")
    return None if value is None else at_of(text(value, "now"), "now").minutes


def _refuse_now(now: Fraction, entries: Sequence[Entry]) -> None:
    latest = max(entry.at.minutes for entry in entries)
    if not latest <= now <= entries[0].at.minutes + LONGEST:
        refuse("now", "out-of-range", "This is before an entry, or more than 366 days after the first.")


def _entries(case: Node, reading: Reading) -> tuple[Entry, ...]:
    given = get(case, WHOLE, "entries")
    if not isinstance(given, list):
        refuse("entries", "wrong-type", "A list is expected here.")
    if not given:
        refuse("entries", "wrong-count", "There is at least one entry.")
    return tuple(read_entry(each, f"entries[{place}]", reading) for place, each in enumerate(given))
