"""A random sample of ended checks for an audit: that it was drawn, and what was found of each check of it."""

from dataclasses import dataclass
from typing import ClassVar

from app.records.events import Event


@dataclass(frozen=True, kw_only=True)
class SampleDrawn(Event):
    """A sample of checks that ended on some days was drawn, `each` of every unit; anyone can draw it again.

    `strata` says of each unit, after its id, how many were drawn and of how many; `digest` is of the ids.
    """

    kind: ClassVar[str] = "sample-drawn"
    sample: str
    seed: str
    from_date: str
    to_date: str
    each: int
    strata: tuple[str, ...]
    digest: str


@dataclass(frozen=True, kw_only=True)
class SampleAnswered(Event):
    """What an auditor found of a check of a sample; the last answer counts, and each stays."""

    kind: ClassVar[str] = "sample-answered"
    sample: str
    audited: str
    answer: str
    reasons: tuple[str, ...]
    text: str
