"""What became of the syringes that were issued: put on by a check, closed with the account, or still out."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from app.base import Act
from app.judging.issued import find_issued
from app.records.account_entries import UNREAD, label_content
from app.records.issue_events import IssueSettled
from app.records.issued import issued_in, out_of
from app.records.kept import SOURCES, KeptInfusion
from app.records.kinds import Syringe
from app.records.known import known_by
from app.site.issued import issued_of
from app.site.loading import Loaded, known_of
from app.storage import Reader, Transaction


@dataclass(frozen=True, kw_only=True)
class OutListed:
    """Where syringes are out, and since when; nothing that was written of them."""

    infusion: str
    unit: str
    bed: str
    since: datetime
    many: int


def note_put_on(tx: Transaction, act: Act, loaded: Loaded, number: int | None = None) -> None:
    """Of what was issued, what a check has put on: by the label of its last reading, or of the one named.

    What was written after the two had compared nobody has held beside the label: it counts only if it says
    the same.
    """
    check = loaded.state.check
    compared = [each for each in loaded.comparisons if each.subject == SOURCES]
    kept = next((each for each in reversed(compared) if number is None or each.round <= number), None)
    issued = out_of(issued_in(loaded.entries))
    # What ran, and no two had read, was put on by nobody yet.
    is_known = kept is not None and kept.loaded_again not in ("", UNREAD)
    if kept is None or is_known or not issued or not _may_be_issued(loaded):
        return
    label = known_by(kept.opened["case"]).syringe
    if not label.get("lot") or _is_on_already(tx, loaded, label):
        return
    volume = (label_content(kept.opened["case"], kept.opened["answers"]) or {}).get("volume", "")
    judged = {each["issue"] for each in kept.told.get("issued", ())}
    known = [each for each in issued if str(each.position) in judged]
    found = find_issued(known, lot=label["lot"], volume=volume) or find_issued(
        [each for each in issued if each.event.sealed and each.event.exact == volume],
        lot=label["lot"],
        volume=volume,
    )
    if found is not None:
        put_on = IssueSettled(issue=str(found.position), how=IssueSettled.PUT_ON, round=kept.round)
        tx.append(put_on, act=act, check=check.id, infusion=check.infusion)


def _may_be_issued(loaded: Loaded) -> bool:
    """Whether the check puts a syringe on, or is the first to read what was put on without one."""
    if loaded.state.kind.ends:
        return False
    return loaded.state.kind.syringe is not Syringe.STAYS or not loaded.infusion.in_force


def _is_on_already(reader: Reader, loaded: Loaded, label: object) -> bool:
    by_label = loaded.state.kind.syringe is Syringe.BY_LABEL
    return by_label and known_of(reader, loaded.infusion).syringe == label


def close_with(tx: Transaction, act: Act, infusion: str) -> None:
    """With the account of an infusion that has ended, whoever is in charge settles what is still out."""
    for each in out_of(issued_of(tx, infusion)):
        closed = IssueSettled(issue=str(each.position), how=IssueSettled.CLOSED)
        tx.append(closed, act=act, infusion=infusion)


def out_of_infusions(reader: Reader, infusions: Iterable[KeptInfusion]) -> Iterable[OutListed]:
    """Where of these syringes are out: by state alone, whoever looks."""
    for infusion in infusions:
        out = out_of(issued_of(reader, infusion.id))
        if out:
            yield OutListed(
                infusion=infusion.id,
                unit=infusion.unit,
                bed=infusion.bed,
                since=out[0].at,
                many=len(out),
            )
