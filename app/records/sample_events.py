"""A random sample of ended checks for an audit, as the log has it."""

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
