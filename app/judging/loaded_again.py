"""A part-used syringe that is loaded again: one of this infusion's own that is in hand, and as it was left.

What is left of it nobody is told before both have handed in what its scale shows. Where what ran is set up
anew, the one that was on is in hand too.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from fractions import Fraction
from typing import Any

from app.accounting import balance
from app.accounting.case import Issued
from app.judging.account import find_case, read_entries
from app.judging.findings import stop
from app.people import folded
from app.quantities import Dimension, Quantity, parse_quantity, show_number
from app.records.account_entries import UNREAD, label_content, totals_read
from app.records.fields import field_of
from app.records.followup import OF_ACCOUNT, Found
from app.records.kept import A, B
from app.records.known import Known, known_by
from app.records.label_rows import PART_USED
from app.records.reading import Answers
from app.records.sources import Field, Source

_NOTHING_HELD: tuple[Mapping[str, Any], ...] = ({"kind": "end", "at": "2000-01-01T00:00Z"},)
_COMES_AS, _LEFT = field_of(Source.LABEL, "comes_as"), field_of(Source.LABEL, "part_left")


@dataclass(frozen=True, kw_only=True)
class LoadedAgain:
    """Which syringe of the account it is, blank where it is none, and what was found of it."""

    name: str = ""
    findings: tuple[Found, ...] = ()


@dataclass(frozen=True, kw_only=True)
class _Syringe:
    """One that may be loaded again: put on first, or else come in, at `since`; `left` None: nobody knows."""

    name: str
    since: datetime
    left: Fraction | None


def is_part_used(answers: Mapping[str, Answers]) -> bool:
    """Whether both say that it is."""
    return all(_said(read, _COMES_AS.name) == PART_USED for read in answers.values())


def part_left_apart(
    answers: Mapping[str, Answers], known: Known, policy: Mapping[str, Any], *, comes_off: bool = False
) -> Iterator[Found]:
    """Two who read one scale are within a division of each other."""
    one, other = (_volume(read) for read in answers.values())
    # Where what ran was never read there is no account as yet.
    account = find_case(known.account or (_NOTHING_HELD if comes_off else ()), policy)
    if one is None or other is None or account is None:
        return
    if abs(one - other) > account.policy.scale_division:
        says = "The two readings of this are more than a division of the scale apart."
        yield replace(_found("readings-differ", _LEFT, answers, says), origin="reading")


def judge_loaded_again(  # what is read, what is known, and by which rules
    known: Known,
    case: Mapping[str, Any],
    answers: Mapping[str, Answers],
    policy: Mapping[str, Any],
    *,
    in_use: timedelta,
    at: datetime,
    comes_off: bool = False,
) -> LoadedAgain:
    """What both read alike of it, at the later reading; nothing of a new one.

    The volume of the one who does not handle the device counts, as of whatever is left. `comes_off`: the one
    that is on may be put on again.
    """
    volume = _volume(answers[B])
    unread = (_unread(answers),) if comes_off and _ran_unread(known) else ()
    if not is_part_used(answers) or volume is None:
        return LoadedAgain(findings=unread)
    alike = _of_label(known, case, answers, policy, comes_off=comes_off)
    if not alike and unread:
        is_old = at - datetime.fromisoformat(known.begun) >= in_use
        return LoadedAgain(name=UNREAD, findings=(*(_too_long(answers) if is_old else ()), *unread))
    if not alike:
        says = (
            "No part-used syringe of this infusion with this drug, strength and lot is in hand. "
            "It is not used: take one of this infusion's own, or a new one."
        )
        return LoadedAgain(findings=(_found("part-used-not-of-this", _COMES_AS, answers, says),))
    it = min(alike, key=lambda each: volume if each.left is None else abs(each.left - volume))
    may_differ = read_entries(known.account, policy).policy.scale_division
    return LoadedAgain(
        name=it.name,
        findings=(
            *(_too_long(answers) if at - it.since >= in_use else ()),
            *_not_as_left(it, answers, volume, may_differ),
            *unread,
        ),
    )


def _too_long(answers: Mapping[str, Answers]) -> Iterator[Found]:
    says = "It has been in use for longer than a syringe may be here: take a new one, and account for it."
    yield _found("part-used-too-long", _COMES_AS, answers, says)


def _ran_unread(known: Known) -> bool:
    """Whether it had to start while nothing was on the device by the account, and two have not read it since.

    Of one that was on, and went, its last reading tells.
    """
    started = known.account[known.place : known.place + 1]
    was_on = bool(started) and started[0]["kind"] == "started"
    return bool(known.begun) and not known.on and not was_on


def _unread(answers: Mapping[str, Answers]) -> Found:
    says = (
        "What ran was started without a check, and stood before two had read it alike: what it gave is known "
        "by nothing but what you read now. This syringe comes into the account with what is in it now. Count "
        "the one that ran, and tell the charge nurse."
    )
    return replace(_found("ran-unread", _COMES_AS, answers, says), about=OF_ACCOUNT)


def _not_as_left(
    it: _Syringe, answers: Mapping[str, Answers], volume: Fraction, may_differ: Fraction
) -> Iterator[Found]:
    if it.left is None:
        says = "Nobody read what was left in it when it was taken off: what is gone of it is not known."
    elif abs(volume - it.left) > may_differ:
        left, holds = (f"{show_number(each)} mL" for each in (it.left, volume))
        says = f"By the account {left} were left in it, and it holds {holds}: say what became of the rest."
    else:
        return
    yield replace(_found("part-used-volume-differs", _LEFT, answers, says), about=OF_ACCOUNT)


def _of_label(
    known: Known,
    case: Mapping[str, Any],
    answers: Mapping[str, Answers],
    policy: Mapping[str, Any],
    *,
    comes_off: bool,
) -> Sequence[_Syringe]:
    """Those in hand whose label says the same: drug, strength and lot."""
    label = known_by(case).syringe
    content = label_content(case, answers) or (_content_by_first(case, answers) if comes_off else None)
    in_hand = (*known.syringes, *([known.on] if comes_off and known.on else ()))
    # In an account that nobody can compute nobody knows what is in which.
    if not in_hand or content is None or find_case(known.account, policy) is None:
        return ()
    read = {"kind": "issued", "at": known.account[0]["at"], "syringe": "read", **content}
    (labelled,) = _issued((read,), policy).values()
    strengths = {name: each.concentration for name, each in _issued(known.account, policy).items()}
    left = {
        each.name: each.places.volume.left for each in balance(read_entries(known.account, policy)).syringes
    }
    if comes_off and known.on:
        left[known.on["name"]] = _left_on(answers[B])
    return [
        _Syringe(name=name, since=_since(known.account, name), left=left[name])
        for each in in_hand
        if strengths[name := each["name"]] == labelled.concentration
        and folded(each["drug"]) == folded(label.get("drug", ""))
        and folded(each["lot"]) == folded(label.get("lot") or "")
    ]


def _content_by_first(case: Mapping[str, Any], answers: Mapping[str, Answers]) -> Mapping[str, str] | None:
    """What it holds as the first wrote it: the second wrote the same strength in another way."""
    return label_content({**case, "entries": case["entries"][:1]}, {A: answers[A], B: answers[A]})


def _left_on(read: Answers) -> Fraction | None:
    """What was left in the one that comes off, as it was read there."""
    totals = totals_read(read)
    return _volume_in(totals.data.get("left") if totals else None)


def _issued(entries: Sequence[Mapping[str, Any]], policy: Mapping[str, Any]) -> dict[str, Issued]:
    return {each.typed: each for each in read_entries(entries, policy).entries if isinstance(each, Issued)}


def _since(entries: Sequence[Mapping[str, Any]], name: str) -> datetime:
    its = [each for each in entries if each.get("syringe") == name]
    loaded = [each for each in its if each["kind"] == "loaded"]
    return datetime.fromisoformat((loaded or its)[0]["at"])


def _found(code: str, field: Field, answers: Mapping[str, Answers], says: str) -> Found:
    readings = {f"{letter}.{Source.LABEL}": _said(read, field.name) for letter, read in answers.items()}
    return stop(code=code, field=field.finding, readings=readings, says=says, origin="")


def _said(read: Answers, name: str) -> str | None:
    return read.get(Source.LABEL, {}).get(name)


def _volume(read: Answers) -> Fraction | None:
    text = _said(read, _LEFT.name) if _said(read, _COMES_AS.name) == PART_USED else None
    return _volume_in(text)


def _volume_in(text: str | None) -> Fraction | None:
    """In mL; None where nothing that is one was read."""
    given = parse_quantity(text, Dimension.VOLUME, zero_allowed=True) if text else None
    return given.value if isinstance(given, Quantity) else None
