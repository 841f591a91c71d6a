"""Whether a clinician signed a record, by the signature and the log's entries about the key in the file.

A key counts when the log says that it was made by this person, and that a second person, not the one who gave
the code for it, met its holder face to face and signed so with a key of their own that the log knows too.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from app.keys import (
    CONFIRMATION_TYPE,
    RecordHeader,
    Verified,
    key_id,
    verify_detached,
    verify_record,
)
from app.records.checkpoint import Checkpoint, Place, holds
from app.records.events import Event, PersonalKeyConfirmed, PersonalKeyMade
from app.reports.attachments import SignerKey
from app.reports.record_file import RecordFile


@dataclass(frozen=True, kw_only=True)
class SignedBy:
    """The signature holds; who, when and in which meaning is what the signer signed with the record."""

    header: RecordHeader
    signature: str
    says: str


@dataclass(frozen=True, kw_only=True)
class NotSigned:
    """It does not, or cannot be shown to; `says` tells why."""

    says: str


_NONE = NotSigned(says="There is no such signature in the file.")
_NO_PROOF = NotSigned(says="The file does not show what this site's log says about the signer's key.")
_NO_CLINICIAN = NotSigned(says="The record does not name this clinician.")
_NO_KEY = NotSigned(
    says="No key of this person was made and confirmed by a second person, as far as the log shows."
)
_DOES_NOT_HOLD = NotSigned(
    says="The signature is not over this record, or was not made with this person's key."
)
_OTHER_RECORD = NotSigned(says="The signature is by this key, but names another person, record or edition.")


def signature_of(letter: str, file: RecordFile) -> SignedBy | NotSigned:
    """Whether the clinician with this letter signed the attached record.

    The checkpoint of the proof has to be the site's: whoever makes a checkpoint can make a log for it.
    """
    signature, proof = file.signatures.get(letter), file.proof
    if signature is None:
        return _NONE
    if proof is None:
        return _NO_PROOF
    clinician = _clinician(file.document, letter)
    if clinician is None:
        return _NO_CLINICIAN
    keys = [_public(each, proof.checkpoint, clinician) for each in proof.keys]
    if not any(keys):
        return _NO_KEY
    headers = [verify_record(signature, file.record, public) for public in keys if public]
    valid = [each for each in headers if isinstance(each, RecordHeader)]
    if not valid:
        return _DOES_NOT_HOLD
    (header, *_) = valid
    if not _names(header, file.document, clinician):
        return _OTHER_RECORD
    return SignedBy(header=header, signature=signature, says=_said(header))


def _clinician(document: Mapping[str, Any], letter: str) -> Mapping[str, Any] | None:
    listed = document.get("clinicians")
    named = [
        each
        for each in (listed if isinstance(listed, list) else [])
        if isinstance(each, dict)
        and each.get("letter") == letter
        and {"person", "printed_name", "staff_number"} <= each.keys()
    ]
    return named[0] if len(named) == 1 else None


def _public(key: SignerKey, checkpoint: Checkpoint, clinician: Mapping[str, Any]) -> str | None:
    """The public half, if the log shows that the key is this clinician's and was confirmed."""
    made = event_at(key.made, checkpoint, PersonalKeyMade)
    confirmed = event_at(key.confirmed, checkpoint, PersonalKeyConfirmed)
    confirmer = event_at(key.confirmer, checkpoint, PersonalKeyMade)
    if made is None or confirmed is None or confirmer is None:
        return None
    holds_together = (
        made["person"] == clinician["person"]
        and made["kid"] == confirmed["kid"] == key_id(made["public"])
        and confirmed["confirmed_by"] not in {made["person"], made["issuer"]}
        and confirmed["confirmed_by"] == confirmer["person"]
        and confirmed["confirmer_kid"] == confirmer["kid"] == key_id(confirmer["public"])
        and _is_stated(confirmed, made, clinician)
        and _is_confirmed(confirmed["signature"], confirmed["statement"], confirmer["public"])
    )
    return str(made["public"]) if holds_together else None


# One key signs many records, and its confirmation stands in the file of each.
@lru_cache(maxsize=1024)
def _is_confirmed(signature: str, statement: str, public: str) -> bool:
    found = verify_detached(signature, statement.encode(), public, typ=CONFIRMATION_TYPE)
    return isinstance(found, Verified)


def _is_stated(confirmed: Mapping[str, Any], made: Mapping[str, Any], clinician: Mapping[str, Any]) -> bool:
    """What the colleague signed names this key and this person, by the name that stands in the record."""
    statement = json.loads(confirmed["statement"])
    stated = {
        "kid": made["kid"],
        "public": made["public"],
        "person": clinician["person"],
        "printed_name": clinician["printed_name"],
        "staff_number": clinician["staff_number"],
        "confirmed_by": confirmed["confirmed_by"],
    }
    return isinstance(statement, dict) and all(statement.get(name) == value for name, value in stated.items())


# Both signatures of a file rest on the same entries.
@lru_cache(maxsize=16)
def event_at(place: Place, checkpoint: Checkpoint, kind: type[Event]) -> Mapping[str, Any] | None:
    """What an entry of this kind says, if it stands at its place under the checkpoint."""
    if not holds(place, checkpoint):
        return None
    written = json.loads(place.leaf)
    is_it = written.get("kind") == kind.kind and written.get("position") == place.position
    data = written.get("data")
    return data if is_it and isinstance(data, dict) else None


def _names(header: RecordHeader, document: Mapping[str, Any], clinician: Mapping[str, Any]) -> bool:
    return bool(
        header.record_id == document["record"]
        and header.edition == document["edition"]
        and header.user_id == clinician["person"]
        and header.printed_name == clinician["printed_name"]
    )


def _said(header: RecordHeader) -> str:
    at = header.signed_at.isoformat(timespec="seconds")
    return f"{header.printed_name} signed it at {at}, with a key that a colleague confirmed face to face."
