"""What is found in the readings of the syringes, in what left them, and in how long the next one lasts."""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from math import floor

from app.accounting.account import Account
from app.accounting.budget import Stage, Verdict
from app.accounting.case import Kept, Removed, Returned, Wasted, totals_of
from app.accounting.findings import AccountFinding, Difference, StageName
from app.accounting.forecast import Forecast, written_time
from app.accounting.places import SyringeAccount, Whole, has_spare
from app.accounting.wording import allowed_volume, recount, volume


def syringe_findings(
    account: Account, syringes: Sequence[SyringeAccount], whole: Whole, forecast: Forecast | None
) -> Iterator[AccountFinding]:
    """Readings, stages, what was given away, what is in hand, and the next syringe."""
    yield from _not_read(account)
    yield from _rises(account)
    for syringe in syringes:
        yield from _in_use(account, syringe)
        yield from _in_hand(account, syringe)
    yield from _of_whole(account, syringes, whole)
    yield from _not_signed(account)
    if not account.has_ended:
        yield from _still_in_hand(account, syringes)
    if forecast is not None and forecast.ask_by is not None:
        yield from _ask_pharmacy(account, syringes, forecast, forecast.ask_by)


def _not_read(account: Account) -> Iterator[AccountFinding]:
    for place in account.not_read:
        entry = account.case.entries[place]
        is_left_needed = isinstance(entry, Removed) and entry.left is None
        totals = ["the totals"] if totals_of(entry) is None else []
        what = " and ".join([*totals, *(["what was left"] if is_left_needed else [])])
        yield AccountFinding(
            code="reading-missing",
            entry=place,
            syringe=account.course.states[place].on,
            says=f"Nobody read {what} here: what the device gave by then cannot be compared.",
        )


def _rises(account: Account) -> Iterator[AccountFinding]:
    for place, rise in account.rises.items():
        yield AccountFinding(
            code="left-rose",
            entry=place,
            syringe=account.course.states[place].on,
            difference=Difference(value=rise),
            says=recount(f"{volume(rise)} more was read to be left than at the reading before."),
        )


def _in_use(account: Account, syringe: SyringeAccount) -> Iterator[AccountFinding]:
    """What was not explained at the last count in use."""
    stage, places = syringe.places.in_use, syringe.places.volume
    own, by_device = places.delivered_by_syringe, places.delivered_by_device
    if stage is None or own is None or by_device is None:
        return
    if stage.verdict is Verdict.UNEXPLAINED:
        code = "unexplained"
    elif stage.verdict is Verdict.DOES_NOT_FIT:
        code = "left-below-predicted" if stage.volume > 0 else "left-above-predicted"
    else:
        return
    more_or_less = "more" if stage.volume > 0 else "less"
    yield AccountFinding(
        code=code,
        entry=syringe.counted_at,
        syringe=syringe.key,
        stage=StageName.IN_USE,
        difference=Difference(value=stage.volume),
        factor=own / by_device if own > 0 and by_device > 0 else None,
        says=recount(
            f"{volume(stage.volume)} {more_or_less} is gone from the syringe than the device gave by its"
            f" totals; {_tolerance(account, stage)}"
        ),
    )


def _in_hand(account: Account, syringe: SyringeAccount) -> Iterator[AccountFinding]:
    """What was not explained after the last count in hand."""
    stage = syringe.places.in_hand
    if stage is None or stage.verdict not in {Verdict.UNEXPLAINED, Verdict.DOES_NOT_FIT}:
        return
    is_at_end = stage.verdict is Verdict.UNEXPLAINED
    if stage.volume > 0:
        what = "was left by the last count in hand than was wasted, given back or kept"
    else:
        what = "was primed, wasted, given back or kept than was left by the last count in hand"
    yield AccountFinding(
        code="unexplained" if is_at_end else "more-than-left",
        entry=_last(account) if is_at_end else account.ledgers[syringe.key].last_gone_at,
        syringe=syringe.key,
        stage=StageName.IN_HAND,
        difference=Difference(value=stage.volume),
        says=recount(f"{volume(stage.volume)} more {what}; {_tolerance(account, stage)}"),
    )


def _of_whole(account: Account, syringes: Sequence[SyringeAccount], whole: Whole) -> Iterator[AccountFinding]:
    """What no syringe shows by itself, and all of them together do."""
    stages = (
        (StageName.IN_USE, whole.in_use, [each.places.in_use for each in syringes]),
        (StageName.IN_HAND, whole.in_hand, [each.places.in_hand for each in syringes]),
    )
    for name, stage, of_each in stages:
        if stage is None or stage.verdict is not Verdict.UNEXPLAINED:
            continue
        if any(each is not None and each.verdict is Verdict.UNEXPLAINED for each in of_each):
            continue
        more_or_less = "more" if stage.volume > 0 else "less"
        yield AccountFinding(
            code="unexplained",
            entry=_last(account),
            stage=name,
            difference=Difference(value=stage.volume),
            says=recount(
                f"All syringes together: {volume(stage.volume)} {more_or_less} is gone than is explained;"
                f" {_tolerance(account, stage)}"
            ),
        )


def _tolerance(account: Account, stage: Stage) -> str:
    """How much of a difference can come from how exactly everything can be read."""
    allowed = allowed_volume(stage.budget, account.case.policy)
    return f"{allowed} can come from how exactly all of this can be read."


def _last(account: Account) -> int:
    return len(account.case.entries) - 1


def _not_signed(account: Account) -> Iterator[AccountFinding]:
    for place, entry in enumerate(account.case.entries):
        match entry:
            case Wasted(syringe=syringe, volume=gone, witnessed=False):
                code, says = "not-witnessed", f"{volume(gone)} was wasted, and no second person saw it."
            case Returned(syringe=syringe, volume=gone, received=False):
                code, says = "not-received", f"{volume(gone)} was given back, and nobody signed for it."
            case Kept(syringe=syringe, volume=gone, received=False):
                code, says = "not-received", f"{volume(gone)} is kept under seal, and nobody signed for it."
            case _:
                continue
        yield AccountFinding(code=code, entry=place, syringe=syringe, says=says)


def _still_in_hand(account: Account, syringes: Sequence[SyringeAccount]) -> Iterator[AccountFinding]:
    for syringe in syringes:
        left = syringe.places.volume.left
        was_loaded = account.ledgers[syringe.key].was_loaded
        if was_loaded and syringe.key != account.on_at_end and left:
            yield AccountFinding(
                code="in-hand",
                syringe=syringe.key,
                difference=Difference(value=left),
                says=f"{volume(left)} of a syringe that is off the device is still in hand.",
            )


def _ask_pharmacy(
    account: Account, syringes: Sequence[SyringeAccount], forecast: Forecast, ask_by: Fraction
) -> Iterator[AccountFinding]:
    """Due as it is written: rounded down to the minute."""
    is_due = floor(ask_by) <= account.course.times[-1]
    if is_due and not has_spare(account, syringes, forecast.syringe):
        yield AccountFinding(
            code="ask-pharmacy",
            syringe=forecast.syringe,
            says=f"Ask pharmacy for the next syringe: it was due by {written_time(ask_by, forecast.ahead)}.",
        )
