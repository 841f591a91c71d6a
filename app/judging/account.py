"""The account's part in the judging of a round: whether two readings of a device that runs can both be right.

Between them a dose may have been given, and the continuous part goes on: `app.accounting` says what may lie
between. The reading of the one who does not handle the device enters the account.
"""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from fractions import Fraction
from functools import partial
from typing import Any

from app.accounting import AccountCase, balance, read_account
from app.accounting.case import (
    DeviceChanged,
    Entry,
    Paused,
    Removed,
    Settings,
    Started,
    left_of,
    totals_of,
)
from app.accounting.findings import StageName
from app.accounting.intervals import rise
from app.comparison import CaseError
from app.judging.findings import finding_key, stop
from app.judging.told_before import told_before
from app.judging.unseen import with_unseen
from app.records.account_entries import TotalsRead, lowered_entry, totals_read
from app.records.fields import FIELDS, field_of
from app.records.followup import NOT_COMPUTED, OF_ACCOUNT, OF_PATIENT, Found, Severity
from app.records.formats import ACCOUNT
from app.records.kept import LETTERS
from app.records.known import Known, known_by
from app.records.reading import Answers
from app.records.sources import NONE, Source

_LEFT = "left"
# What may be written while two read.
MEANWHILE = frozenset({"started", "paused", "settings", "bolus", "wasted", "returned"})
# Besides, where the syringe that is read comes off: one that came in for it, and was replaced.
MEANWHILE_COMING_OFF = MEANWHILE | {"issued"}
# What is to be done some time while it runs: lists say it, and nobody acknowledges it at a bedside.
_OF_LISTS = frozenset({"ask-pharmacy", "in-hand"})
# Of a device that gives less than it is known to give, nothing follows from less.
_LESS_THAN_PREDICTED = "account-totals-below-predicted"
# What a third person settles by closing the account.
_OF_WITNESSES = ("not-witnessed", "not-received")
# Which reading is to be looked at again for what lies between two that cannot both be right.
_LOOK_AT: Mapping[str, tuple[str, ...]] = {
    "totals-went-back": ("total_amount", "total_volume", "presses", "doses"),
    "totals-not-attributed": ("total_amount", "total_volume"),
    "presses-below-doses": ("presses", "doses"),
    "doses-above-possible": ("doses",),
    "totals-above-possible": ("total_amount", "total_volume"),
    "totals-above-predicted": ("total_amount", "total_volume", "doses"),
    "totals-below-predicted": ("total_amount", "total_volume", "doses"),
    "doses-below-boluses": ("doses",),
}


@dataclass(frozen=True, kw_only=True)
class AccountJudged:
    """What a round says of the account; its result once both readings can be right."""

    findings: tuple[Found, ...] = ()
    result: Mapping[str, Any] | None = None


def judge_account(
    known: Known,
    case: Mapping[str, Any],
    answers: Mapping[str, Answers],
    policy: Mapping[str, Any],
    *,
    unseen: str = "",
    meanwhile: Collection[str] = MEANWHILE,
) -> AccountJudged:
    """Both readings beside what the infusion knows; nothing where it has no account, and none can begin.

    `unseen` is the syringe that is on, where nobody had checked it there; `meanwhile` is what may have been
    written since they read.
    """
    was, known = known.account, with_unseen(known, case, answers, unseen)
    before = known.account
    if not before:
        return AccountJudged()
    lowered = _lowered(known, case, before)
    before, settled = lowered.entries, lowered.settled
    both = [totals_read(answers[letter]) for letter in LETTERS]
    before = _until(min((each.at for each in both if each), default=None), before, meanwhile)
    first, second = (_without_syringe(before, each) for each in both)
    if first is None or second is None:
        return AccountJudged()
    earlier, later = sorted((first, second), key=lambda each: each.at)
    between = find_case((*before, earlier.written(), later.written()), policy)
    if between is None:
        return AccountJudged(findings=(_not_computed(),))
    apart = tuple(_apart(between, {letter: answers[letter][Source.TOTALS] for letter in LETTERS}))
    if apart:
        return AccountJudged(findings=apart)
    result = balanced((*before, second.written()), policy)
    told = told_before(before, result, partial(balanced, policy=policy))
    told = frozenset(each for each in told if each[1] >= len(before) or before[each[1]] in was)
    told |= {(code, place) for place in settled for code in _OF_WITNESSES}
    # Once it has ended nothing is read on its device.
    found = found_in(result, has_ended=False, told=told)
    if lowered.by_how_much_is_unknown:
        found = tuple(each for each in found if each.code != _LESS_THAN_PREDICTED)
    return AccountJudged(findings=found, result=result)


def _until(
    at: datetime | None, entries: tuple[Mapping[str, Any], ...], meanwhile: Collection[str]
) -> tuple[Mapping[str, Any], ...]:
    """What was before a reading: what came between it and its hand-in is not judged by it."""
    place = len(entries)
    while at and place and entries[place - 1]["kind"] in meanwhile:
        if datetime.fromisoformat(entries[place - 1]["at"]) <= at:
            break
        place -= 1
    return entries[:place]


def _without_syringe(before: Sequence[Mapping[str, Any]], read: TotalsRead | None) -> TotalsRead | None:
    """What is read where no syringe is on the device: of one that is kept, nothing is read here."""
    turns = [each["kind"] for each in before if each["kind"] in ("loaded", "removed")]
    if read is None or "left" not in read.data or (turns and turns[-1] == "loaded"):
        return read
    data = {name: each for name, each in read.data.items() if name != "left"}
    return replace(read, data=data) if "totals" in data else None


@dataclass(frozen=True, kw_only=True)
class _Lowered:
    """The account with what the device was set to since a dose was lowered for safety.

    `settled` are places in these entries.
    """

    entries: tuple[Mapping[str, Any], ...]
    settled: tuple[int, ...]
    by_how_much_is_unknown: bool = False


def _lowered(known: Known, case: Mapping[str, Any], before: tuple[Mapping[str, Any], ...]) -> _Lowered:
    if not known.lowered:
        return _Lowered(entries=before, settled=known.settled)
    told = lowered_entry(before, known_by(case).previous)
    if not told:
        return _Lowered(entries=before, settled=known.settled, by_how_much_is_unknown=True)
    at = datetime.fromisoformat(known.lowered)
    place = sum(datetime.fromisoformat(each["at"]) <= at for each in before)
    return _Lowered(
        entries=(*before[:place], {**told, "at": known.lowered}, *before[place:]),
        settled=tuple(each + (each >= place) for each in known.settled),
    )


def found_in(
    result: Mapping[str, Any], *, has_ended: bool, told: Collection[tuple[str, int]] = ()
) -> tuple[Found, ...]:
    """What the account's result has found, but for what only lists say, and what was `told` before."""
    return tuple(
        _kept(each, has_ended=has_ended)
        for each in result["findings"]
        if each["code"] not in _OF_LISTS and (each["code"], each["entry"]) not in told
    )


def balanced(entries: Sequence[Mapping[str, Any]], policy: Mapping[str, Any]) -> dict[str, Any]:
    """What an account comes to."""
    return balance(read_entries(entries, policy)).as_json()


def account_case(entries: Sequence[Mapping[str, Any]], policy: Mapping[str, Any]) -> dict[str, Any]:
    """The account's case, in the contract's order of keys."""
    return {"format": ACCOUNT.newest, "policy": dict(policy), "entries": [dict(each) for each in entries]}


def _apart(case: AccountCase, both: Mapping[str, Mapping[str, str]]) -> Iterator[Found]:
    """What must be read again: what cannot lie between the last two readings of the account."""
    names = {*_not_for_both(both), *_impossible(case), *_counted_standing(case)}
    if _left_differs(case):
        names.add(_LEFT)
    # In the order of the table: which was found first would tell more than which they are.
    for name in (each.name for each in FIELDS[Source.TOTALS] if each.name in names):
        readings = {f"{letter}.{Source.TOTALS}": each.get(name) for letter, each in both.items()}
        if any(text not in (None, NONE) for text in readings.values()):
            yield stop(
                code="readings-differ",
                field=field_of(Source.TOTALS, name).finding,
                readings=readings,
                says="The two readings of this cannot both be right.",
                origin="reading",
            )


def find_case(entries: Sequence[Mapping[str, Any]], policy: Mapping[str, Any]) -> AccountCase | None:
    """The case of an account; None where the engine takes what was written for no account at all."""
    read = read_account(account_case(entries, policy))
    return None if isinstance(read, CaseError) else read


def read_entries(entries: Sequence[Mapping[str, Any]], policy: Mapping[str, Any]) -> AccountCase:
    """The case of an account that was found before."""
    case = find_case(entries, policy)
    assert case is not None  # noqa: S101  # the account was asked before
    return case


def _not_computed() -> Found:
    """The two sign that it is open: a third person looks through what was written."""
    found = stop(
        code=NOT_COMPUTED,
        field=field_of(Source.TOTALS, _LEFT).finding,
        readings={},
        says=(
            "No account can be made of what was written of this infusion: where its drug is, is not known. "
            "Count each syringe, and tell the charge nurse."
        ),
        origin="account",
    )
    return replace(found, about=OF_ACCOUNT)


def _not_for_both(both: Mapping[str, Mapping[str, str]]) -> Iterator[str]:
    """What one of the two read, and the other says is not there."""
    first, second = both.values()
    for field in FIELDS[Source.TOTALS]:
        one, other = first.get(field.name), second.get(field.name)
        if one and other and (one == NONE) != (other == NONE):
            yield field.name


def _impossible(case: AccountCase) -> Iterator[str]:
    """What the account finds at the later reading and not at the earlier one: it lies between them."""
    later = len(case.entries) - 1
    found = balance(case).findings
    already = {each.code for each in found if each.entry == later - 1}
    for each in found:
        if each.entry == later and each.code not in already:
            yield from _LOOK_AT.get(each.code, ())


def _counted_standing(case: AccountCase) -> Iterator[str]:
    """On a device that stands, presses and doses are the same for both."""
    if _runs(case.entries):
        return
    one, other = (totals_of(each) for each in case.entries[-2:])
    if one is None or other is None:
        return
    yield from (name for name in ("presses", "doses") if getattr(one, name) != getattr(other, name))


def _runs(entries: Sequence[Entry]) -> bool:
    turns = [each for each in entries if isinstance(each, Started | Paused | Removed | DeviceChanged)]
    return bool(turns) and isinstance(turns[-1], Started)


def _left_differs(case: AccountCase) -> bool:
    """Whether what is left differs by more than a division of the scale, but for what was given between."""
    one, other = (left_of(each) for each in case.entries[-2:])
    return (
        one is not None
        and other is not None
        and abs(one - other - _given_between(case)) > case.policy.scale_division
    )


def _given_between(case: AccountCase) -> Fraction:
    """In mL, by the device's totals; nothing where it shows none."""
    one, other = (totals_of(each) for each in case.entries[-2:])
    if one is None or other is None:
        return Fraction(0)
    mass, volume = rise(one, other)
    if volume is not None:
        return volume
    set_to = next((each.concentration for each in reversed(case.entries) if isinstance(each, Settings)), None)
    return Fraction(0) if mass is None or set_to is None else mass / set_to


# What of a reading each finding of the account is about.
_ABOUT: Mapping[str, str] = {
    **{code: names[0] for code, names in _LOOK_AT.items()},
    "presses-far-above-doses": "presses",
    "series-not-from-zero": "total_amount",
}


LOOK_AT_PATIENT = "Look at the patient now: sedation and breathing; pause if in doubt."
# More may have been given than was meant.
_OVER_DELIVERY = frozenset(
    {
        "strength-set-differs",
        "doses-above-possible",
        "totals-above-possible",
        "totals-above-predicted",
        "left-below-predicted",
    }
)


def _is_about(finding: Mapping[str, Any], *, has_ended: bool) -> str:
    if finding["severity"] != Severity.STOP:
        return ""
    gone = finding["code"] == "unexplained" and finding["stage"] == StageName.IN_USE
    more_gone = gone and not finding["difference"]["exact"].startswith("-")
    is_over = finding["code"] in _OVER_DELIVERY or more_gone
    return OF_PATIENT if is_over and not has_ended else OF_ACCOUNT


def _kept(finding: Mapping[str, Any], *, has_ended: bool) -> Found:
    """A finding of the account as a comparison keeps it: what it is about stands in what it says."""
    code, is_about = f"account-{finding['code']}", _is_about(finding, has_ended=has_ended)
    field = field_of(Source.TOTALS, _ABOUT.get(finding["code"], _LEFT)).finding
    says = f"{LOOK_AT_PATIENT} {finding['says']}" if is_about == OF_PATIENT else finding["says"]
    about: dict[str, Any] = {"code": code, "field": field, "clinician": "", "says": says}
    factor = finding["factor"]
    return Found(
        key=finding_key(readings={}, **about),
        about=is_about,
        severity=finding["severity"],
        readings={},
        slip="",
        factor=factor["shown"] if factor else "",
        origin="account",
        **about,
    )
