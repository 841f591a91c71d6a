"""The safety steps as a record shows them: what was done, who did it and who verified it, and when."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from app.quantities import for_people, set_off
from app.reports.times import Clock, day_in_words
from app.words.names import nurse_words
from app.words.taken_back import taken_back_words


@dataclass(frozen=True, kw_only=True)
class StepShown:
    """One step; `done` and `verified` are letter and time, or blank."""

    do: str
    done: str
    verified: str


@dataclass(frozen=True, kw_only=True)
class PrimingShown:
    """A primed volume: who read it, the drug that ran out with it, what the engine says, whether it stood."""

    by: str
    volume: str
    drug: str
    says: tuple[str, ...]
    stands: bool


def groups_of(document: Mapping[str, Any], clock: Clock) -> tuple[tuple[int, tuple[StepShown, ...]], ...]:
    """The groups in order, each with its steps."""
    steps = document["safety_steps"]["steps"]
    numbers = dict.fromkeys(each["group"] for each in steps)
    return tuple(
        (number, tuple(_step(each, clock) for each in steps if each["group"] == number)) for number in numbers
    )


def _step(step: Mapping[str, Any], clock: Clock) -> StepShown:
    done, verified = (_confirmed(step.get(part), clock) for part in ("done", "verified"))
    return StepShown(do=step["do"], done=done, verified=verified)


def _confirmed(confirmation: Mapping[str, str] | None, clock: Clock) -> str:
    if not confirmation:
        return ""
    return f"{nurse_words(confirmation['clinician'])} {clock.short(confirmation['at'])}"


@dataclass(frozen=True, kw_only=True)
class TakenBackShown:
    """What was taken back, who saw it, who wrote it down and when."""

    words: str
    by: str
    at: str
    stands: bool


def taken_back_shown(document: Mapping[str, Any]) -> tuple[TakenBackShown, ...]:
    """All that was written of it, in order; nothing where no syringe was replaced."""
    return tuple(
        TakenBackShown(
            words=taken_back_words(
                {
                    **each,
                    "way": each["kind"],
                    "volume": each["typed"],
                    "received": each.get("received", False),
                },
                witness=each["witness"],
                stated=day_in_words(each["at"]) if each["at"] != each["written_at"] else "",
                stands=each["stands"],
            ),
            by=each["by"],
            at=each["written_at"],
            stands=each["stands"],
        )
        for each in document.get("safety_steps", {}).get("taken_back", ())
    )


def priming_shown(document: Mapping[str, Any]) -> tuple[PrimingShown, ...]:
    """Every reading of the primed volume as it was judged last, in order."""
    last = {each["reading"]: each for each in document["priming"]}
    return tuple(
        PrimingShown(
            by=each["by"],
            volume=set_off(each["volume"]),
            drug=for_people(each["primed_drug"]) if each["primed_drug"] else "",
            says=tuple(found["says"] for found in each["findings"]),
            stands=each["within"],
        )
        for each in last.values()
    )
