"""What happened to the site itself: its rules, its keys, and the list of who looked."""

from dataclasses import dataclass
from typing import ClassVar

from app.records.events import Event


@dataclass(frozen=True, kw_only=True)
class SiteDataPublished(Event):
    """A version of the drug library, policy, safety steps or packs is in force from a moment on (ISO 8601).

    `number` counts the versions of one document: of those whose time has come the last one is in force.
    The first rules of an installation were proposed by nobody; any other was, and approved by another.
    """

    kind: ClassVar[str] = "site-data-published"
    what: str
    version: str
    digest: str
    number: int
    in_force_from: str


@dataclass(frozen=True, kw_only=True)
class RulesProposed(Event):
    """Somebody proposed a version of a document, compared with the one of the digest `against`.

    `in_force_from` (ISO 8601) is empty where it is to count from its approval on. `roles` are those that
    they held then.
    """

    kind: ClassVar[str] = "rules-proposed"
    proposal: str
    what: str
    version: str
    digest: str
    against: str
    why: str
    in_force_from: str
    roles: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class ProposalApproved(Event):
    """Another person, who held these roles then, approved what `proposed_by` proposed."""

    kind: ClassVar[str] = "proposal-approved"
    proposal: str
    proposed_by: str
    roles: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class ProposalRefused(Event):
    """Another person refused what `proposed_by` proposed."""

    kind: ClassVar[str] = "proposal-refused"
    proposal: str
    proposed_by: str
    why: str


@dataclass(frozen=True, kw_only=True)
class ProposalWithdrawn(Event):
    """Whoever proposed it took it back."""

    kind: ClassVar[str] = "proposal-withdrawn"
    proposal: str
    proposed_by: str


@dataclass(frozen=True, kw_only=True)
class InstallationFounded(Event):
    """From here on this database is the installation of this id; keys of any other are refused.

    `attestation` is the word of the application key that belongs to it. `copy_of` is the installation of
    which it was a copy until then: one made for training keeps the entries, and is never the original again.
    `training`: it was filled for that alone, and no patient is ever in it.
    """

    kind: ClassVar[str] = "installation-founded"
    installation: str
    attestation: str
    copy_of: str = ""
    training: bool = False

    @property
    def is_for_training(self) -> bool:
        """Whether no patient may ever be checked in it; every copy is."""
        return self.training or bool(self.copy_of)


@dataclass(frozen=True, kw_only=True)
class AccountStands(Event):
    """What of an account may change is this, by its digest, since the act before; nothing of it is said."""

    kind: ClassVar[str] = "account-stands"
    person: str
    digest: str


@dataclass(frozen=True, kw_only=True)
class TrainingRecorded(Event):
    """Somebody wrote down on what day (ISO 8601) a person was trained, and for what."""

    kind: ClassVar[str] = "training-recorded"
    training: str
    person: str
    topic: str
    trained_on: str


@dataclass(frozen=True, kw_only=True)
class TrainingWithdrawn(Event):
    """A training was recorded wrongly: it counts no more."""

    kind: ClassVar[str] = "training-withdrawn"
    training: str
    why: str


@dataclass(frozen=True, kw_only=True)
class AccountabilityAccepted(Event):
    """A person accepted the site's statement of accountability, in a session begun with the secret."""

    kind: ClassVar[str] = "accountability-accepted"
    version: str
    digest: str


@dataclass(frozen=True, kw_only=True)
class SigningsRefused(Event):
    """As many signings with one id as the site's policy names were refused since a moment (ISO 8601).

    `person` is empty where nobody has such an id.
    """

    kind: ClassVar[str] = "signings-refused"
    refused: str
    person: str
    count: int
    since: str


@dataclass(frozen=True, kw_only=True)
class SigningsRefusedRead(Event):
    """Whoever was to be told of refused signings has read of them."""

    kind: ClassVar[str] = "signings-refused-read"
    refused: str


@dataclass(frozen=True, kw_only=True)
class SiteKeyMade(Event):
    """A key of the site came into use, for the seal or for checkpoints; its certificate (PEM) stands here."""

    kind: ClassVar[str] = "site-key-made"
    kid: str
    purpose: str
    certificate: str


@dataclass(frozen=True, kw_only=True)
class SiteKeyStolen(Event):
    """Two people said that a key of the site is in other hands from a moment on (`stolen_from`, ISO 8601).

    What it signs from then on counts only where the log has it otherwise.
    """

    kind: ClassVar[str] = "site-key-stolen"
    kid: str
    stolen_from: str
    declared_by: str
    and_by: str


@dataclass(frozen=True, kw_only=True)
class AccessesDigested(Event):
    """The list of who looked at patient data, from the last such entry up to a place: length and digest."""

    kind: ClassVar[str] = "accesses-digested"
    up_to: int
    count: int
    digest: str
