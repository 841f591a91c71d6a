"""Accounts beside what the rows come to, counted apart from their fold: in SQL, with whole numbers."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from fractions import Fraction
from functools import cache
from typing import Any

from app.accounting import balance, read_account
from app.accounting.places import Places
from app.comparison import CaseError
from app.judging.account import account_case
from app.site.loading import account_of, rules_in_force
from app.storage import Reader, Recounted, RowUnreadable, is_out_of_reach

# Infusions that are asked for together.
_AT_ONCE = 25
_PLACES = (
    "loaded",
    "primed",
    "delivered_by_device",
    "not_read",
    "wasted",
    "returned",
    "kept",
    "left",
    "difference",
)
_NOT_READABLE = "its account cannot be computed"


def differing_accounts(reader: Reader, now: datetime) -> Iterator[str]:
    """Where the account of an infusion is not what is stored of it; no value is named."""
    policies = _Policies(reader, now)
    started = reader.ever_started()
    for first in range(0, len(started), _AT_ONCE):
        some = started[first : first + _AT_ONCE]
        by_policy: dict[tuple[bool, bool, bool], list[str]] = {}
        for infusion, unit in some:
            by_policy.setdefault(_counted(policies.of(unit)), []).append(infusion)
        units = dict(some)
        for counted, infusions in by_policy.items():
            for infusion, syringes in _recounted(reader, infusions, counted).items():
                told = _differing(reader, infusion, policies.of(units[infusion]), syringes)
                yield from (f"infusion {infusion}: {what}" for what in told)


class _Policies:
    """The account's part of the policy in force, by unit."""

    def __init__(self, reader: Reader, now: datetime) -> None:
        self.of = cache(lambda unit: rules_in_force(reader, now, unit=unit).policy.account)


def _counted(policy: Mapping[str, Any]) -> tuple[bool, bool, bool]:
    """Whether a device's totals count what staff gives by it, a loading dose, and what is primed by it."""
    return (
        bool(policy.get("totals_count_bolus", True)),
        bool(policy.get("totals_count_loading", True)),
        bool(policy.get("totals_count_prime", False)),
    )


def _recounted(
    reader: Reader, infusions: Sequence[str], counted: tuple[bool, bool, bool]
) -> dict[str, tuple[Recounted, ...] | None]:
    """All in one go; where one row cannot be read, each by itself, so that only that one fails."""
    bolus, loading, prime = counted
    try:
        return {**reader.recounted(infusions, counts_bolus=bolus, counts_loading=loading, counts_prime=prime)}
    except RowUnreadable:
        if len(infusions) == 1:
            return {infusions[0]: None}
        return {each: _recounted(reader, [each], counted)[each] for each in infusions}


def _differing(
    reader: Reader, infusion: str, policy: Mapping[str, Any], recounted: tuple[Recounted, ...] | None
) -> Iterator[str]:
    """Each place of each syringe of which the two say something else."""
    try:
        folded = _folded(reader, infusion, policy)
    except Exception as error:  # what is damaged may fail in any way, and is to be named
        if is_out_of_reach(error):
            raise
        folded = None
    if folded is None or recounted is None:
        yield _NOT_READABLE
        return
    if folded.keys() != {each.name for each in recounted}:
        yield "its account has other syringes than were read"
        return
    for each in recounted:
        for place in _PLACES:
            told: Fraction | None = getattr(folded[each.name], place)
            if told != getattr(each, place):
                yield f"syringe {each.name}: {place} is not what was read"


def _folded(reader: Reader, infusion: str, policy: Mapping[str, Any]) -> dict[str, Places] | None:
    """The account as everybody is shown it; None where the engine refuses it."""
    account = account_of(reader, infusion)
    if not account.entries:
        return {}
    case = read_account(account_case(account.written(), policy))
    if isinstance(case, CaseError):
        return None
    return {each.name: each.places.volume for each in balance(case).syringes}
