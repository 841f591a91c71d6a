"""What the log says must stand in the tables: for each event, the row that the same act wrote.

A column that no event tells of is held by something else: a digest, a signature, or computing again.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from app.records import events, order_events, site_events
from app.records.kept import Entry
from app.records.kept_reviews import ASSIGNED, COMMENTED, REVIEWED
from app.records.kept_rules import APPROVED, REFUSED, WITHDRAWN
from app.records.review_events import FindingAssigned, FindingClassified, FindingCommented, FindingReviewed
from app.records.training_events import CompetencyIssued
from app.records.written import as_data


@dataclass(frozen=True, kw_only=True)
class Told:
    """A row of a table, by its columns; `key` are those that no two rows share."""

    table: str
    key: tuple[str, ...]
    row: Mapping[str, Any]

    @property
    def place(self) -> tuple[Any, ...]:
        """The values of the key."""
        return tuple(self.row[name] for name in self.key)


# The tables that belong to one check, and what tells their rows apart within it.
OF_A_CHECK: Mapping[str, tuple[str, ...]] = {
    "check": ("id",),
    "participant": ("slot",),
    "reading": ("subject", "round", "slot"),
    "comparison": ("subject", "round"),
    "frozen": ("edition",),
    "signature": ("edition", "slot"),
    "pdf": ("edition",),
    "what_followed": ("edition",),
    "help_taker": ("help", "turn"),
    "finding_review": ("position",),
    "finding_classified": ("subject", "round", "number", "place"),
}
# Those of the whole site, which has few of each.
OF_THE_SITE: Mapping[str, tuple[str, ...]] = {
    "site_data": ("what", "version"),
    "site_key": ("kid",),
    "issued_code": ("person", "issued_at"),
    "code_told": ("code", "person"),
    "personal_key": ("kid",),
    "key_confirmation": ("kid",),
    "key_retirement": ("kid",),
    "training": ("id",),
    "training_withdrawal": ("training",),
    "acceptance": ("person", "digest"),
    "refused_signings": ("id",),
    "refused_signings_told": ("refused", "person"),
    "rule_proposal": ("id",),
    "rule_decision": ("proposal",),
    "competency_file": ("record", "edition"),
    "order_sender": ("id",),
    "order_sender_revoked": ("sender",),
    "order_message": ("id",),
}


def told_by(entry: Entry) -> Told | None:
    """The row that an entry tells of, if it tells of one."""
    told = _of_a_check(entry) if entry.check else _of_the_site(entry)
    if told is None:
        return None
    table, row = told
    return Told(table=table, key={**OF_A_CHECK, **OF_THE_SITE}[table], row=row)


_Row = tuple[str, dict[str, Any]]


def _of_a_check(entry: Entry) -> _Row | None:
    event = entry.event
    if isinstance(event, events.CheckOpened):
        return "check", _opened(entry, event)
    found = _by_a_nurse(entry) or _of_a_record(entry) or _of_a_finding(entry)
    if found is None:
        return None
    table, row = found
    return table, {"check": entry.check, **row}


def _by_a_nurse(entry: Entry) -> _Row | None:
    by_whom = {"person": entry.by}
    match entry.event:
        case events.Joined(slot=slot):
            return "participant", {**by_whom, "slot": slot, "joined_at": entry.at}
        case events.HandedIn():
            told = as_data(entry.event)
            # The log alone says it: the row names the session.
            del told["method"]
            return "reading", {**by_whom, **told, "handed_in_at": entry.at, **_signed_in(entry)}
        case events.Signed():
            told = as_data(entry.event)
            # The JWS by its digest: the log does not hold the signature itself.
            told["jws"] = told.pop("signature")
            # The log alone says what was given beside the secret.
            del told["beside"]
            return "signature", {**by_whom, **told, "signed_at": entry.at, **_signed_in(entry)}
        case events.HelpTaken():
            return "help_taker", {**by_whom, **as_data(entry.event), "taken_at": entry.at}
        case _:
            return None


def _of_a_record(entry: Entry) -> _Row | None:
    match entry.event:
        case events.Compared():
            return "comparison", {**as_data(entry.event), "at": entry.at}
        case events.RecordFrozen():
            return "frozen", {**as_data(entry.event), "at": entry.at}
        case events.RecordIssued(edition=edition, pdf_digest=written):
            return "pdf", {"edition": edition, "digest": written, "issued_at": entry.at}
        case events.WhatFollowedIssued(edition=edition, document_digest=document, pdf_digest=written):
            # The document by its digest, as a signature's JWS.
            its = {"edition": edition, "document": document, "digest": written}
            return "what_followed", {**its, "issued_at": entry.at}
        case _:
            return None


def _of_a_finding(entry: Entry) -> _Row | None:
    event = entry.event
    by_whom = {"person": entry.by, "at": entry.at}
    match event:
        case FindingReviewed():
            return "finding_review", {**_review(entry, REVIEWED), "assigned_to": ""}
        case FindingCommented():
            return "finding_review", {**_review(entry, COMMENTED), "assigned_to": ""}
        case FindingAssigned():
            return "finding_review", _review(entry, ASSIGNED)
        case FindingClassified():
            return "finding_classified", {**as_data(event), **by_whom, "factors": " ".join(event.factors)}
        case _:
            return None


def _review(entry: Entry, what: str) -> dict[str, Any]:
    told = {"assigned_to" if name == "to" else name: value for name, value in as_data(entry.event).items()}
    return {**told, "what": what, "position": entry.position, "person": entry.by, "at": entry.at}


def _signed_in(entry: Entry) -> dict[str, Any]:
    return {"session": entry.session, "device": entry.device, "signed_in_at": entry.signed_in_at}


def _opened(entry: Entry, event: events.CheckOpened) -> dict[str, Any]:
    return {
        "id": entry.check,
        "infusion": entry.infusion,
        "kind": event.check_kind,
        "unit": event.unit,
        "bed": event.bed,
        "opened_by": entry.by,
        "opened_at": entry.at,
    }


def _of_the_site(entry: Entry) -> _Row | None:
    event, at = entry.event, entry.at
    match event:
        case site_events.SiteDataPublished():
            since = {"in_force_from": datetime.fromisoformat(event.in_force_from)}
            return "site_data", {**as_data(event), **since}
        case site_events.SiteKeyMade():
            return "site_key", as_data(event)
        case events.AccountChanged(person=person, what="made" | "reset" | "authenticator taken away" as what):
            # With each of the first two the person was given a one-time code; of the other it is told alike.
            return "issued_code", {"person": person, "what": what, "issuer": entry.by, "issued_at": at}
        case events.ResetRead(code=code):
            return "code_told", {"code": code, "person": entry.by, "told_at": at}
        case _:
            return _of_a_key(event, at) or _of_people(entry) or _of_rules(entry) or _of_orders(entry)


def _of_a_key(event: events.Event, at: datetime) -> _Row | None:
    match event:
        case events.PersonalKeyMade():
            return "personal_key", {**as_data(event), "made_at": at}
        case events.PersonalKeyConfirmed():
            told = as_data(event)
            signed = {"statement": event.statement.encode(), "jws": told.pop("signature")}
            return "key_confirmation", {**told, **signed, "confirmed_at": at}
        case events.PersonalKeyRetired():
            return "key_retirement", {**as_data(event), "retired_at": at}
        case _:
            return None


def _of_people(entry: Entry) -> _Row | None:
    event, at = entry.event, entry.at
    match event:
        case site_events.TrainingRecorded():
            told = as_data(event)
            told["id"] = told.pop("training")
            return "training", {**told, "recorded_by": entry.by, "recorded_at": at}
        case site_events.TrainingWithdrawn():
            return "training_withdrawal", {**as_data(event), "withdrawn_by": entry.by, "withdrawn_at": at}
        case site_events.AccountabilityAccepted():
            its = {**as_data(event), "person": entry.by, "accepted_at": at}
            return "acceptance", {**its, **_signed_in(entry)}
        case site_events.SigningsRefused():
            told = as_data(event)
            told["id"], told["since"] = told.pop("refused"), datetime.fromisoformat(event.since)
            return "refused_signings", {**told, "at": at}
        case site_events.SigningsRefusedRead(refused=refused):
            return "refused_signings_told", {"refused": refused, "person": entry.by, "told_at": at}
        case CompetencyIssued(record=record, edition=edition, pdf_digest=written):
            its = {"record": record, "edition": edition}
            return "competency_file", {**its, "digest": written, "issued_at": at}
        case _:
            return None


_OUTCOMES: Mapping[type[events.Event], str] = {
    site_events.ProposalApproved: APPROVED,
    site_events.ProposalRefused: REFUSED,
    site_events.ProposalWithdrawn: WITHDRAWN,
}


def _of_rules(entry: Entry) -> _Row | None:
    event, at = entry.event, entry.at
    if isinstance(event, site_events.RulesProposed):
        told = as_data(event)
        told["id"] = told.pop("proposal")
        del told["roles"]
        since = datetime.fromisoformat(event.in_force_from) if event.in_force_from else None
        its = {"in_force_from": since, "proposed_by": entry.by, "proposed_at": at}
        return "rule_proposal", {**told, **its}
    outcome = _OUTCOMES.get(type(event))
    if outcome is None:
        return None
    decided = {"why": "", "outcome": outcome, "decided_by": entry.by, "decided_at": at}
    # The roles of whoever decided stand in no row.
    told = {**decided, **as_data(event)}
    told.pop("roles", None)
    return "rule_decision", told


def _of_orders(entry: Entry) -> _Row | None:
    event, at, position = entry.event, entry.at, {"position": entry.position}
    match event:
        case order_events.OrderSenderAdded(sender=sender, name=name, token_digest=token):
            added = {"added_by": entry.by, "added_at": at}
            return "order_sender", {"id": sender, "name": name, "token_digest": token, **added}
        case order_events.OrderSenderRevoked(sender=sender):
            return "order_sender_revoked", {
                "sender": sender,
                "revoked_by": entry.by,
                "revoked_at": at,
                **position,
            }
        case order_events.OrderReceived(order=order, sender=sender, digest=written):
            its = {"id": order, "sender": sender, "digest": written}
            return "order_message", {**its, "received_at": at, **position}
        case _:
            return None
