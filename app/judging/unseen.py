"""The account with a syringe that came onto the device before anybody had checked it there."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from app.records.account_entries import FIRST_SYRINGE, begins, comes_on, totals_read
from app.records.kept import LETTERS
from app.records.known import Known
from app.records.reading import Answers


def with_unseen(known: Known, case: Mapping[str, Any], answers: Mapping[str, Answers], unseen: str) -> Known:
    """It came as of the start that nobody had checked; else it is as of when it was found.

    `unseen` is what it is called; the same without one, where the syringe on is the one that was put on.
    """
    is_again = any(each["name"] == unseen for each in known.syringes)
    if known.begun and not known.on:
        name = unseen or known.next_name or FIRST_SYRINGE
        came = begins(case, answers, name=name, is_again=is_again)
        return _put_in(known, known.place, [{**each, "at": known.begun} for each in came])
    if not unseen:
        return known
    came = comes_on(case, answers, name=unseen, is_again=is_again)
    if known.begun:
        return _put_in(known, known.place, [known.off, *({**each, "at": known.begun} for each in came)])
    read = [its.at for each in LETTERS if (its := totals_read(answers[each]))]
    if not read:
        return known
    runs = [{"kind": "started"}] if _is_running(known.account) else []
    at = min(read).isoformat(timespec="seconds")
    found = [{**each, "at": at} for each in ({"kind": "removed"}, *came, *runs)]
    return _put_in(known, len(known.account), found)


def _put_in(known: Known, place: int, entries: Sequence[Mapping[str, Any]]) -> Known:
    """With these in the account; where it begins with them, what was spilt before anybody read it follows."""
    if not entries:
        return known
    spilt = () if known.account else known.spilt
    settled = tuple(each + len(entries) * (bool(spilt) or each >= place) for each in known.settled)
    account = (*known.account[:place], *entries, *known.account[place:], *spilt)
    return replace(known, account=account, settled=settled)


def _is_running(entries: Sequence[Mapping[str, Any]]) -> bool:
    turns = [each["kind"] for each in entries if each["kind"] in ("started", "paused", "removed", "device")]
    return bool(turns) and turns[-1] == "started"
