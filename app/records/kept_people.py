"""What storage keeps of people beside their accounts: training, the statement accepted, refused signings."""

from dataclasses import dataclass
from datetime import date, datetime


@dataclass(frozen=True, kw_only=True)
class Training:
    """Somebody else recorded on what day a person was trained, and for what; `trained_on` is ISO 8601."""

    id: str
    person: str
    topic: str
    trained_on: str
    recorded_by: str
    recorded_at: datetime

    @property
    def day(self) -> date:
        """The day of the training."""
        return date.fromisoformat(self.trained_on)


@dataclass(frozen=True, kw_only=True)
class TrainingWithdrawal:
    """A training that was recorded wrongly counts no more."""

    training: str
    withdrawn_by: str
    withdrawn_at: datetime
    why: str


@dataclass(frozen=True, kw_only=True)
class Acceptance:
    """A person accepted the statement of this digest, in a session begun with the secret."""

    person: str
    digest: str
    version: str
    accepted_at: datetime
    session: str
    device: str
    signed_in_at: datetime


@dataclass(frozen=True, kw_only=True)
class RefusedSignings:
    """So many signings with one id were refused since a moment; `person` is empty where nobody has the id."""

    id: str
    person: str
    count: int
    since: datetime
    at: datetime


@dataclass(frozen=True, kw_only=True)
class RefusedSigningsTold:
    """Who has read of it."""

    refused: str
    person: str
    told_at: datetime


@dataclass(frozen=True, kw_only=True)
class LastUse:
    """When a person last signed in, and when the login was made; None of what never was."""

    person: str
    used_at: datetime | None
    made_at: datetime | None


@dataclass(frozen=True, kw_only=True)
class KeptCompetency:
    """The sealed PDF of a signed record of checks on training cards."""

    record: str
    edition: int
    digest: str
    issued_at: datetime
    content: bytes
