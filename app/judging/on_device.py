"""Whether the syringe on the device is the one that was put on there before two: nothing else says so later.

One that came on without a check is in the account from then on, and the one before is off and in hand.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from app.accounting import AccountCase
from app.accounting.case import Issued
from app.judging.account import find_case
from app.judging.findings import stop
from app.people import folded
from app.quantities import Dimension, Quantity, parse_quantity
from app.records.account_entries import label_content, totals_read
from app.records.fields import field_of
from app.records.followup import OF_ACCOUNT, Found
from app.records.kept import B
from app.records.known import Known, known_by
from app.records.reading import Answers
from app.records.sources import NONE, Source

_LOT = field_of(Source.LABEL, "lot")


@dataclass(frozen=True, kw_only=True)
class OnDevice:
    """Which syringe is on by its name in the account, blank where it is the one that was put on."""

    unseen: str = ""
    findings: tuple[Found, ...] = ()


def judge_on_device(
    known: Known, case: Mapping[str, Any], answers: Mapping[str, Answers], policy: Mapping[str, Any]
) -> OnDevice:
    """The label that both read beside the one of the syringe that is on by the account.

    What had to start without a check may have been started with another one, and nobody is asked why.
    """
    label, content = known_by(case).syringe, label_content(case, answers)
    if content is None or "drug" not in label:
        return OnDevice()
    read = {"drug": label["drug"], "lot": label.get("lot") or "", **content}
    if known.on and _is_same(known.on, read, policy):
        return OnDevice(unseen=known.next_name if _holds_more(known, answers, policy) else "")
    if not (known.on or known.begun):
        return OnDevice()
    lots = {f"{each}.{Source.LABEL}": its.get(Source.LABEL, {}).get("lot") for each, its in answers.items()}
    if known.on and None in lots.values() and _is_same({**known.on, "lot": read["lot"]}, read, policy):
        # One alone is asked for the lot: one slip of the pen is no other syringe.
        says = "The lot is read otherwise than that of the syringe that was put on. Both read it."
        return OnDevice(findings=(_found("not-in-force", lots, says, origin="reading"),))
    of_label = [each["name"] for each in known.syringes if _is_same(each, read, policy)]
    unseen = of_label[0] if len(of_label) == 1 else known.next_name
    if known.begun:
        return OnDevice(unseen=unseen)
    says = (
        f"The label is of {read['drug']}, lot {read['lot']}; what two put on the device is "
        f"{known.on['drug']}, lot {known.on['lot'] or 'not on its label'}. What became of "
        "that one is written on the page of the infusion."
    )
    found = replace(_found("another-syringe", lots, says, origin=""), about=OF_ACCOUNT)
    return OnDevice(unseen=unseen, findings=(found,))


def _holds_more(known: Known, answers: Mapping[str, Answers], policy: Mapping[str, Any]) -> bool:
    """Whether it holds more than was read in the change that was given up for a start: another of one lot.

    A syringe that was put back holds what it held, or less.
    """
    read, case = totals_read(answers[B]), find_case(known.account, policy)
    left = (known.off.get("left", ""), read.data.get("left", "") if read else "")
    volumes = [
        given.value
        for given in (parse_quantity(text, Dimension.VOLUME, zero_allowed=True) for text in left)
        if isinstance(given, Quantity)
    ]
    if not isinstance(case, AccountCase) or len(volumes) < len(left):
        return False
    was, now = volumes
    return now - was > case.policy.scale_division


def _is_same(one: Mapping[str, Any], other: Mapping[str, Any], policy: Mapping[str, Any]) -> bool:
    """Drug, lot and strength; a label without a lot says nothing of it."""
    lots = {folded(each["lot"]) for each in (one, other) if each["lot"] not in ("", NONE)}
    strengths = {_strength(each, policy) for each in (one, other)}
    return folded(one["drug"]) == folded(other["drug"]) and len(lots) <= 1 and len(strengths) == 1


def _strength(label: Mapping[str, Any], policy: Mapping[str, Any]) -> object:
    content = {key: label[key] for key in ("volume", "amount", "concentration", "size") if key in label}
    issued = {"kind": "issued", "at": "2000-01-01T00:00Z", "syringe": "1", **content}
    case = find_case((issued,), policy)
    entry = case.entries[0] if isinstance(case, AccountCase) else None
    return entry.concentration if isinstance(entry, Issued) else None


def _found(code: str, lots: Mapping[str, str | None], says: str, *, origin: str) -> Found:
    return stop(code=code, field=_LOT.finding, readings=lots, says=says, origin=origin)
