"""Requests for help: who asked, who took them, in turn, and how they were settled."""

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, kw_only=True)
class Taking:
    """A third person took a request for help, from nobody or from whoever had it."""

    by: str
    at: datetime


@dataclass(frozen=True, kw_only=True)
class Help:
    """One request for help and how far it has come."""

    id: str
    asked_by: str
    asked_at: datetime
    why: str
    text: str
    takings: tuple[Taking, ...] = ()
    outcome: str = ""
    settled_text: str = ""

    @property
    def taken_by(self) -> str:
        """Who has it, or had it last; blank while nobody has."""
        return self.takings[-1].by if self.takings else ""

    @property
    def takers(self) -> frozenset[str]:
        """Everybody who has had it."""
        return frozenset(each.by for each in self.takings)
