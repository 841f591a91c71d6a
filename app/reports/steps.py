"""The safety steps as a record shows them: what was done, who did it and who verified it, and when."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from app.records.kept import LETTERS
from app.records.steps import PRIMED_VOLUME
from app.reports.times import Clock


@dataclass(frozen=True, kw_only=True)
class StepShown:
    """One step; `done` and `verified` are letter and time, or blank."""

    do: str
    done: str
    verified: str
    by_both: bool


@dataclass(frozen=True, kw_only=True)
class PrimingShown:
    """One pair of primed volumes, each read without sight of the other."""

    volumes: tuple[tuple[str, str], ...]
    within: bool
    tolerance: str


def groups_of(document: Mapping[str, Any], clock: Clock) -> tuple[tuple[int, tuple[StepShown, ...]], ...]:
    """The groups in order, each with its steps."""
    steps = document["safety_steps"]["steps"]
    numbers = dict.fromkeys(each["group"] for each in steps)
    settled = any(each["within"] for each in document["priming"])
    return tuple(
        (number, tuple(_step(each, clock, settled) for each in steps if each["group"] == number))
        for number in numbers
    )


def _step(step: Mapping[str, Any], clock: Clock, priming_settled: bool) -> StepShown:  # noqa: FBT001  # a fact
    done, verified = (_confirmed(step.get(part), clock) for part in ("done", "verified"))
    # The primed volume is not confirmed: two blind readings of it agree, or the record would not stand.
    by_both = step["entry"] == PRIMED_VOLUME and priming_settled
    return StepShown(do=step["do"], done=done, verified=verified, by_both=by_both)


def _confirmed(confirmation: Mapping[str, str] | None, clock: Clock) -> str:
    return f"{confirmation['clinician']} {clock.short(confirmation['at'])}" if confirmation else ""


def priming_shown(document: Mapping[str, Any]) -> tuple[PrimingShown, ...]:
    """Every pair of primed volumes, in order."""
    return tuple(
        PrimingShown(
            volumes=tuple((letter, each["read"][letter]) for letter in LETTERS),
            within=each["within"],
            tolerance=each["tolerance"],
        )
        for each in document["priming"]
    )
