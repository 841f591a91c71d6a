"""Findings as they are shown: shape, word and ratio first, then the sentence, then the values it is about."""

import re
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from app.records.followup import WHATEVER_THE_DOSE, Follow, Found
from app.records.patient_rows import READ_AS
from app.records.state import CheckState
from app.web.models.readings import Line, Row
from app.words.checking import code_words
from app.words.names import finding_field_words, listed, loud_times, quiet_times, severity_words
from app.words.screens import unbroken

MARKS = {"stop": "differs", "caution": "consider", "note": "agrees"}
_TOLERANT = ("chart.opioid_tolerant",)
# The answers without which nobody sees why.
_TURN_ON: Mapping[str, tuple[str, ...]] = {
    "strength-for-tolerant-only": _TOLERANT,
    "continuous-opioid-naive": _TOLERANT,
    "continuous-in-patient-at-risk": _TOLERANT,
}
_SENTENCE_ENDS = re.compile(r"(?<=[.]) (?=[A-Z])")
_SLIP = "Consistent with"
# Their second sentence says what would happen; of the others the first says what is the matter.
_TELL_THE_CONSEQUENCE = frozenset({"device-differs", "label-differs"})
# A sentence that, read alone beside DO NOT START, would sound as if all were well.
_REASSURES = "The device is set to the label's concentration"


@dataclass(frozen=True, kw_only=True)
class ShownFinding:
    """One finding; `set_aside` says by whom and why, where an exception did.

    `limits_differ`: it is about a limit's amount or time. `loud` is what its block shouts, blank where a mark
    is enough; `ratio` one too small to be shouted.
    """

    key: str
    code: str
    severity: str
    word: str
    title: str
    field: str
    by: str
    loud: str
    plate: str
    ratio: str
    says: str
    lines: tuple[Line, ...]
    limits_differ: bool
    set_aside: str


def limits_in_one(findings: Sequence[ShownFinding]) -> tuple[ShownFinding, ...]:
    """Where several numbers of the limits are not as ordered, that is one thing: in which time how much.

    What is ordered and what is set say it; ratios between limits of different times would mislead.
    """
    of_limits = [each for each in findings if each.code == "device-differs" and each.limits_differ]
    if len(of_limits) < 2:  # noqa: PLR2004  # one speaks for itself
        return tuple(findings)
    first, *others = of_limits
    ordered, is_set = (
        listed([line.value.text for line in first.lines if line.where == where and line.value])
        for where in ("Order", "Device")
    )
    says = f"Order and device do not agree on the limits: ordered {ordered}, set {is_set}."
    whole = replace(first, field="Limits", loud="", plate="", ratio="", says=unbroken(says))
    return tuple(whole if each is first else each for each in findings if each not in others)


@dataclass(frozen=True, kw_only=True)
class Headline:
    """The worst consequence in plain words, and what it rests on."""

    key: str
    severity: str
    word: str
    text: str
    lead: str


def shown(found: Found, rows: Iterable[Row], state: CheckState, names: dict[str, str]) -> ShownFinding:
    """One finding with the row of values it is about."""
    rows = tuple(rows)
    times = loud_times(found.factor)
    title = code_words(found.code)
    return ShownFinding(
        key=found.key,
        code=found.code,
        severity=found.severity,
        word=severity_words(found.severity, state.kind, found.about),
        title=title,
        field=finding_field_words(found.field),
        by=state.kind.parts_by_letter.get(found.clinician, ""),
        loud=_said_of(times, found) or (title.upper() if found.code in WHATEVER_THE_DOSE else ""),
        plate=f"×{found.factor}" if times else "",  # noqa: RUF001  # the sign is meant
        ratio=_said_of(quiet_times(found.factor), found),
        says=unbroken(found.says),
        lines=tuple(_lines(found, rows)),
        limits_differ=found.field.startswith("limit."),
        set_aside=_set_aside(found, state, names),
    )


def _lines(found: Found, rows: tuple[Row, ...]) -> Iterator[Line]:
    """The row of values that a finding is about, and each answer of the chart that it turns on."""
    for row in rows:
        if found.field in row.about:
            yield from row.lines
    turns_on = (*_TURN_ON.get(found.code, ()), *(READ_AS[reason] for reason in found.reasons), *found.fields)
    for named in turns_on:
        for row in rows:
            if named in row.about:
                yield from (replace(each, where=_answer_where(row, each)) for each in row.lines)


def _answer_where(row: Row, line: Line) -> str:
    """Which answer, and by whom where that matters: where it is read is said once for all."""
    _, _, by = line.where.partition(", ")
    return f"{row.label}, {by}" if by else row.label


def _said_of(times: str, found: Found) -> str:
    """A ratio and what it is of: of a strength it is the dose's (CONTRACT.md, factor), not the shown values'.

    In the account it is what is gone to what the device gave.
    """
    if found.code == "account-strength-set-differs" or (
        found.field == "concentration" and found.code in {"device-differs", "label-differs"}
    ):
        of = "the dose"
    elif found.about:
        of = "what the device gave"
    else:
        return times
    of = f"of {of}" if times.startswith("A ") else of
    return times and f"{times} {of.upper() if times.isupper() else of}"


def _set_aside(found: Found, state: CheckState, names: dict[str, str]) -> str:
    for each in state.exemptions:
        if each.finding == found.key and found.severity == "stop" and found.follow is Follow.RULE:
            prescriber = f" Prescriber named: {each.prescriber}." if each.prescriber else ""
            return (
                f"Set aside once by {names.get(each.by, 'the person who helped')}: {each.reason}.{prescriber}"
            )
    return ""


def headline_of(findings: Iterable[ShownFinding], considered: Collection[str] = ()) -> Headline | None:
    """The heading of the worst finding that still stands; None where nothing does.

    `considered` has the keys of the cautions that both have answered: they lead no page any more.
    """
    standing = [
        each
        for each in findings
        if not each.set_aside and each.severity != "note" and each.key not in considered
    ]
    if not standing:
        return None
    worst = standing[0]
    text, lead = _heading(worst)
    return Headline(key=worst.key, severity=worst.severity, word=worst.word, text=text, lead=lead)


def _heading(worst: ShownFinding) -> tuple[str, str]:
    if worst.code in _TELL_THE_CONSEQUENCE:
        return consequence_first(worst.says)
    first, *others = _SENTENCE_ENDS.split(worst.says)
    return first, " ".join(others)


def consequence_first(says: str) -> tuple[str, str]:
    """The sentence that tells the consequence, and the others: what was read, and the likely slip."""
    sentences = _SENTENCE_ENDS.split(says)
    second = sentences[1] if len(sentences) > 1 else ""
    if not second or second.startswith((_SLIP, _REASSURES)):
        return sentences[0], " ".join(sentences[1:])
    return second, " ".join((sentences[0], *sentences[2:]))
