"""Whether a clinician signed a record, by the signature and the log's entries about the key in the file.

A key counts when the log says that it was made by this person, and that a second person, not the one who gave
the code for it, met its holder face to face and signed so with a key of their own; and when that key was
confirmed before in the same way, and so on to the two people with whom the keys of the site began.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from app.auditing.verifying_keys import ShownKey, read_foundings, read_keys, walk
from app.keys import RecordHeader, verify_record
from app.records.key_chain import Chain, NoChain
from app.reports.attachments import LogProof
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


NO_SIGNATURE = NotSigned(says="There is no such signature in the file.")
NO_PROOF = NotSigned(says="The file does not show what this site's log says about the signer's key.")
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
        return NO_SIGNATURE
    if proof is None:
        return NO_PROOF
    clinician = _clinician(file.document, letter)
    if clinician is None:
        return _NO_CLINICIAN
    return signed_by(signature, file.record, file.document, proof, named=clinician)


def signed_by(
    signature: str,
    content: bytes,
    document: Mapping[str, Any],
    proof: LogProof,
    *,
    named: Mapping[str, Any] | None,
) -> SignedBy | NotSigned:
    """Whether a signature is over these bytes, by whoever is named, or by anybody where nobody is."""
    keys = read_keys(proof)
    own = [each for each in keys.values() if named is None or _is_own(each, named)]
    if not own:
        return _NO_KEY
    headers = [(each, verify_record(signature, content, str(each.made["public"]))) for each in own]
    valid = [(each, header) for each, header in headers if isinstance(header, RecordHeader)]
    if not valid:
        return _DOES_NOT_HOLD
    ((key, header), *_) = valid
    if not _names(header, document, named or {"person": key.made["person"], "printed_name": key.name}):
        return _OTHER_RECORD
    chain = walk(key.kid, keys, read_foundings(proof))
    if isinstance(chain, NoChain):
        return NotSigned(says=f"The signer's key does not lead to where the site's keys began: {chain.says}.")
    return SignedBy(header=header, signature=signature, says=_said(header, key, chain, keys))


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


def _is_own(key: ShownKey, clinician: Mapping[str, Any]) -> bool:
    """Whether it is the clinician's key, confirmed in the hands of the person whom the record names."""
    named = {name: clinician[name] for name in ("person", "printed_name", "staff_number")}
    return key.made["person"] == named["person"] and named.items() <= key.stated.items()


def _names(header: RecordHeader, document: Mapping[str, Any], clinician: Mapping[str, Any]) -> bool:
    return bool(
        header.record_id == document["record"]
        and header.edition == document["edition"]
        and header.user_id == clinician["person"]
        and header.printed_name == clinician["printed_name"]
    )


def _said(header: RecordHeader, key: ShownKey, chain: Chain, keys: Mapping[str, ShownKey]) -> str:
    at = header.signed_at.isoformat(timespec="seconds")
    by = keys[str(key.confirmed["confirmer_kid"])].name
    first, second = (keys[each].name for each in chain.founding.kids)
    number = chain.founding.number
    again = (
        ""
        if number == 1
        else f" It is founding {number} of this site: every key confirmed before it had been lost."
    )
    code = " The code for this key was given at the host's command line." if key.is_by_operator else ""
    return (
        f"{header.printed_name} signed it at {at}, with a key that {by} confirmed face to face.{code} "
        f"It leads to {first} and {second}, with whom the keys began, at the host.{again}"
    )
