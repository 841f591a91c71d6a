"""Of which syringes something is still in hand, by the account of their infusion."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from itertools import permutations
from typing import Any

from app.accounting import balance, read_account
from app.comparison import CaseError
from app.judging.account import account_case
from app.people import folded
from app.records.account_so_far import Account
from app.records.sources import NONE


def is_of_lot(label: str, lot: str) -> bool:
    """Whether a label may say this lot; one without a lot says nothing."""
    return label in ("", NONE) or folded(label) == folded(lot)


@dataclass(frozen=True, kw_only=True)
class InHand:
    """One syringe; no more than `at_most` mL of it can be left, and None says that nobody knows.

    `is_on`: it is on the device.
    """

    name: str
    drug: str
    lot: str
    at_most: Fraction | None
    is_on: bool

    def has_lot(self, lot: str) -> bool:
        """Whether its label may say this."""
        return is_of_lot(self.lot, lot)


def syringes_in_hand(account: Account, policy: Mapping[str, Any]) -> tuple[InHand, ...]:
    """Those that came in, and of which neither all has gone nor anything is kept as evidence."""
    left = _left(account, policy) if account.lots else {}
    return tuple(
        InHand(name=name, drug=account.drugs[name], lot=lot, at_most=left.get(name), is_on=name == account.on)
        for name, lot in account.lots.items()
        if name not in account.gone | account.kept and (name == account.on or left.get(name) != 0)
    )


def off_the_device(account: Account) -> tuple[Mapping[str, Any], ...]:
    """Those that may be loaded again: what each is called, and what its label says."""
    return tuple(
        account.told_of(name)
        for name in account.lots
        if name != account.on and name not in account.gone | account.kept
    )


def find_chosen(in_hand: Iterable[InHand], *, lot: str, name: str) -> InHand | None:
    """The one with this lot; of several the one that is named. None where that is none, or not clear."""
    of_lot = [each for each in in_hand if each.has_lot(lot) and name in ("", each.name)]
    return of_lot[0] if len(of_lot) == 1 else None


def must_be_named(in_hand: Iterable[InHand]) -> bool:
    """Whether their lots do not say which is which."""
    return any(each.has_lot(other.lot) for each, other in permutations(in_hand, 2))


def _left(account: Account, policy: Mapping[str, Any]) -> dict[str, Fraction | None]:
    case = read_account(account_case(account.written(), policy))
    if isinstance(case, CaseError):
        return {}
    return {each.name: each.places.volume.left for each in balance(case).syringes}
