"""Where everything went, by syringe and for the whole infusion: the account's identity, in mL and in mg."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from app.accounting.account import Account
from app.accounting.budget import Stage, add_up, stage_of
from app.accounting.ledger import Count, Ledger
from app.accounting.sums import find_times, find_total, times, total


@dataclass(frozen=True, kw_only=True, slots=True)
class Places:
    """loaded = primed + delivered by the device + not read + wasted + returned + kept + left + difference."""

    loaded: Fraction
    primed: Fraction
    delivered_by_device: Fraction | None
    delivered_by_syringe: Fraction | None
    not_read: Fraction | None
    wasted: Fraction
    returned: Fraction
    kept: Fraction
    left: Fraction | None
    difference: Fraction | None


@dataclass(frozen=True, kw_only=True, slots=True)
class Whole:
    """One syringe, or all of an infusion."""

    volume: Places
    amount: Places
    in_use: Stage | None
    in_hand: Stage | None


@dataclass(frozen=True, kw_only=True, slots=True)
class SyringeAccount:
    """Where each mL of one syringe went."""

    key: str
    name: str
    counted_at: int | None
    left_at: int | None
    places: Whole


def syringe_accounts(account: Account) -> tuple[SyringeAccount, ...]:
    """Of each syringe, in the order of issue."""
    return tuple(
        SyringeAccount(
            key=key,
            name=ledger.issued.typed,
            counted_at=None if ledger.in_use is None else ledger.in_use.entry,
            left_at=None if ledger.in_hand is None else ledger.in_hand.entry,
            places=_whole(ledger, has_ended=account.has_ended),
        )
        for key, ledger in account.ledgers.items()
    )


def has_spare(account: Account, syringes: Sequence[SyringeAccount], on: str) -> bool:
    """Whether a syringe of the strength of the one now on is at hand, and was never put on."""
    wanted = account.ledgers[on].issued.concentration
    spares = [
        each for each in syringes if not account.ledgers[each.key].was_loaded and each.places.volume.left
    ]
    return any(account.ledgers[each.key].issued.concentration == wanted for each in spares)


def _whole(ledger: Ledger, *, has_ended: bool) -> Whole:
    in_use, in_hand = ledger.in_use, ledger.in_hand
    stage_in_use = None if in_use is None else ledger.stage_in_use(in_use, has_ended=has_ended)
    left, stage_in_hand = (None, None) if in_hand is None else ledger.hand(in_hand, has_ended=has_ended)
    volume = Places(
        loaded=ledger.issued.volume,
        primed=ledger.gone.primed,
        delivered_by_device=None if in_use is None else in_use.delivered,
        delivered_by_syringe=None if in_use is None else in_use.by_syringe,
        not_read=None if in_use is None or in_hand is None else ledger.not_read(in_use, in_hand),
        wasted=ledger.gone.wasted,
        returned=ledger.gone.returned,
        kept=ledger.gone.kept,
        left=left,
        difference=None
        if stage_in_use is None or stage_in_hand is None
        else stage_in_use.volume + stage_in_hand.volume,
    )
    return Whole(
        volume=volume,
        amount=_in_mass(volume, ledger.issued.concentration, in_use),
        in_use=stage_in_use,
        in_hand=stage_in_hand,
    )


def _in_mass(volume: Places, concentration: Fraction, in_use: Count | None) -> Places:
    """All at the syringe's concentration but what the device says; the difference is what remains."""
    delivered = None if in_use is None else in_use.delivered_amount
    difference = None
    if volume.difference is not None and volume.delivered_by_device is not None and delivered is not None:
        difference = (volume.difference + volume.delivered_by_device) * concentration - delivered
    return Places(
        loaded=times(volume.loaded, concentration),
        primed=times(volume.primed, concentration),
        delivered_by_device=delivered,
        delivered_by_syringe=find_times(volume.delivered_by_syringe, concentration),
        not_read=find_times(volume.not_read, concentration),
        wasted=times(volume.wasted, concentration),
        returned=times(volume.returned, concentration),
        kept=times(volume.kept, concentration),
        left=find_times(volume.left, concentration),
        difference=difference,
    )


def infusion_account(account: Account, syringes: Sequence[SyringeAccount]) -> Whole:
    """All syringes together; null where one is."""
    wholes = [each.places for each in syringes]
    policy, has_ended = account.case.policy, account.has_ended

    def all_of(find: Callable[[Whole], Stage | None]) -> Stage | None:
        stages = [stage for stage in map(find, wholes) if stage is not None]
        if len(stages) < len(wholes):
            return None
        volume = total(stage.volume for stage in stages)
        return stage_of(volume, add_up(stage.budget for stage in stages), policy, is_closed=has_ended)

    return Whole(
        volume=_sum([each.volume for each in wholes]),
        amount=_sum([each.amount for each in wholes]),
        in_use=all_of(lambda each: each.in_use),
        in_hand=all_of(lambda each: each.in_hand),
    )


def _sum(each: Sequence[Places]) -> Places:
    if len(each) == 1:
        return each[0]
    return Places(
        loaded=total(one.loaded for one in each),
        primed=total(one.primed for one in each),
        delivered_by_device=find_total(one.delivered_by_device for one in each),
        delivered_by_syringe=find_total(one.delivered_by_syringe for one in each),
        not_read=find_total(one.not_read for one in each),
        wasted=total(one.wasted for one in each),
        returned=total(one.returned for one in each),
        kept=total(one.kept for one in each),
        left=find_total(one.left for one in each),
        difference=find_total(one.difference for one in each),
    )
