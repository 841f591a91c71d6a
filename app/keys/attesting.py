"""What this installation vouches for: a keyed digest that whoever has only the database cannot make."""

import hmac

from app.keys.sealing import ApplicationKey
from app.records.canonical import canonical

# Hexadecimal digits: enough to tell the people of any site apart.
_PSEUDONYM = 16


def attest(key: ApplicationKey, kind: str, facts: dict[str, str]) -> str:
    """HMAC-SHA256 over the facts, under a key of its own for each kind; lower-case hexadecimal."""
    purpose = f"countersign attests {kind} 1"
    return hmac.digest(key.for_purpose(purpose), canonical(facts), "sha256").hex()


def pseudonym(key: ApplicationKey, person: str) -> str:
    """What a person is called where no name is told: the same in every row of one installation, no other."""
    return attest(key, "pseudonym", {"person": person})[:_PSEUDONYM]


def patient_pseudonym(key: ApplicationKey, identifier: str) -> str:
    """The same of a patient, by the identifier on the wristband; never that of a person of the site."""
    return attest(key, "patient pseudonym", {"identifier": identifier})[:_PSEUDONYM]


def is_attested(key: ApplicationKey, kind: str, facts: dict[str, str], attestation: str) -> bool:
    """Whether this installation vouched for exactly these facts; takes the same time whatever differs."""
    return hmac.compare_digest(
        attest(key, kind, facts).encode(), attestation.encode("utf-8", "surrogatepass")
    )
