"""What is seen at the bedside at a handoff, by the site's protocol: two look at it, and the worse counts."""

from collections.abc import Callable, Iterator, Mapping
from typing import Any

from app.judging.findings import caution, stop
from app.judging.steps import slower_than
from app.records.bedside_rows import AS_IT_SHOULD_BE, BY_THE_PATIENT
from app.records.fields import field_of
from app.records.followup import Found
from app.records.kept import B
from app.records.known import Known
from app.records.reading import Answers
from app.records.sources import NONE, Source

_LOOK_NOW = "outside the site's protocol. Look at the patient now, rouse and stay; pause if in doubt."
_BOTH_LOOK = "Put it right at once; then both look, and read this again."

# What each read, by letter.
_Seen = Mapping[str, Mapping[str, str]]


def judge_bedside(
    answers: Mapping[str, Answers], known: Known, protocol: Mapping[str, Any]
) -> Iterator[Found]:
    """What stands against a handoff in what was seen of patient, line and button."""
    seen = {letter: given.get(Source.BEDSIDE.value, {}) for letter, given in answers.items()}
    lowest = protocol["lowest_respiratory_rate"]
    sedated = _of_those(seen, "sedation", lambda text: text not in protocol["within"])
    slow = _of_those(seen, "respiratory_rate", lambda text: slower_than(text, lowest))
    if sedated:
        yield _stop(seen, "outside-protocol", "sedation", f"Sedation is {sedated}: {_LOOK_NOW}")
    if slow:
        yield _stop(seen, "outside-protocol", "respiratory_rate", f"Breathing is at {slow}: {_LOOK_NOW}")
    if _of_those(seen, "line_traced", lambda text: text != AS_IT_SHOULD_BE):
        says = f"Line or site is not as it should be. {_BOTH_LOOK}"
        yield _stop(seen, "line-not-as-it-should-be", "line_traced", says)
    if _of_those(seen, "button_used", lambda text: text != BY_THE_PATIENT):
        says = f"The button is this patient's alone, and only while the patient can use it. {_BOTH_LOOK}"
        yield _stop(seen, "button-not-the-patients", "button_used", says)
    given = _doses_since(answers, known)
    if sedated and given:
        yield _given_to_the_sedated(seen, given)


def _of_those(seen: _Seen, name: str, is_one: Callable[[str], bool]) -> str:
    """What was read of a field and is one of those, for a sentence; blank where nothing is."""
    read = (given[name] for given in seen.values() if given.get(name))
    return " and ".join(sorted({text for text in read if is_one(text)}))


def _readings(seen: _Seen, name: str) -> dict[str, str | None]:
    return {f"{letter}.{Source.BEDSIDE}": given.get(name) for letter, given in seen.items()}


def _stop(seen: _Seen, code: str, name: str, says: str) -> Found:
    field = field_of(Source.BEDSIDE, name).finding
    return stop(code=code, field=field, readings=_readings(seen, name), says=says, origin="")


def _given_to_the_sedated(seen: _Seen, given: int) -> Found:
    doses = "1 dose was" if given == 1 else f"{given} doses were"
    return caution(
        code="doses-while-sedated",
        field=field_of(Source.BEDSIDE, "sedation").finding,
        readings=_readings(seen, "sedation"),
        says=(
            f"{doses} given since the totals were last read, and sedation is outside the protocol. "
            "Ask who pressed the button."
        ),
    )


def _doses_since(answers: Mapping[str, Answers], known: Known) -> int:
    """How many doses the device counts more than when its totals were last read; 0 where nobody can tell."""
    now = answers[B].get(Source.TOTALS.value, {}).get("doses", NONE)
    totals = (each.get("totals") or {} for each in known.account)
    before = [int(each["doses"]) for each in totals if "doses" in each]
    return 0 if now == NONE else max(int(now) - (before[-1] if before else 0), 0)
