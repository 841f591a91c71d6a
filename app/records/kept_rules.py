"""What is proposed of a site's rules, and what another person said to it."""

from dataclasses import dataclass
from datetime import datetime

APPROVED, REFUSED, WITHDRAWN = "approved", "refused", "withdrawn"


@dataclass(frozen=True, kw_only=True)
class RuleProposal:
    """A version of a document that somebody proposed; its content is canonical JSON.

    `against` is the digest of the version that it was compared with, empty where there was none.
    `in_force_from` is None where it is to count from its approval on.
    """

    id: str
    what: str
    version: str
    content: bytes
    digest: str
    against: str
    why: str
    in_force_from: datetime | None
    proposed_by: str
    proposed_at: datetime


@dataclass(frozen=True, kw_only=True)
class RuleDecision:
    """What became of a proposal: approved or refused by another person, or withdrawn by its own."""

    proposal: str
    outcome: str
    proposed_by: str
    decided_by: str
    decided_at: datetime
    why: str
