"""What differed, round by round, and how each finding was settled."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from app.comparison.reasons import reasons_for
from app.records.fields import field_named, find_field
from app.records.followup import Found, worst_first
from app.records.independence import Grade
from app.records.kept import LETTERS
from app.records.kinds import Kind, kind_named
from app.records.settled import How, findings_of, settle_in
from app.records.sources import NONE
from app.records.state import PUT_RIGHT_MEANWHILE
from app.reports.readings import Line, Mark, lines_of, mark_of, values_of
from app.reports.shown_fields import EVERYTHING, LINE_END
from app.reports.times import Clock
from app.words.checking import code_words
from app.words.independence import independence_words
from app.words.names import (
    OUTCOMES,
    SOURCES,
    answer_words,
    finding_field_words,
    listed,
    none_words,
    nurse_words,
    round_words,
    severity_words,
)


@dataclass(frozen=True, kw_only=True)
class Answer:
    """An answer to a finding: an acknowledgement, of both where the words are the same, or an exception."""

    who: str
    reason: str
    named: str
    text: str


@dataclass(frozen=True, kw_only=True)
class FindingShown:
    """One finding with its readings and its end; `as_in` names the earlier reading that had it already.

    `together`: it was gone once both had counted together.
    """

    severity: str
    field: str
    mark: Mark
    lines: tuple[Line, ...]
    says: str
    title: str
    as_in: str
    how: How
    settled_at: str
    settled_in: str
    together: bool
    put_right: str
    answers: tuple[Answer, ...]


@dataclass(frozen=True, kw_only=True)
class RoundShown:
    """One pair of readings: what was read, when, how independently, and what the comparison found."""

    title: str
    scope: str
    touched: str
    voided: str
    put_right_meanwhile: bool
    compared_at: str
    handed_in: tuple[tuple[str, str], ...]
    grade: str
    earlier_look: bool
    findings: tuple[FindingShown, ...]
    otherwise: tuple[tuple[str, tuple[Line, ...]], ...]


def rounds_shown(document: Mapping[str, Any], clock: Clock) -> tuple[RoundShown, ...]:
    """Every round of a canonical record, in order."""
    return tuple(_round(document, each, clock) for each in document["rounds"])


# How a strength was written, and how full the syringe is, changes nothing that anybody does: data has it.
_IN_DATA_ALONE = frozenset({"notation-differs", "volume-differs"})


def notes_of(document: Mapping[str, Any]) -> tuple[str, ...]:
    """What the last comparison said for information, as far as a reader has to know it or to act on it."""
    notes = (each for each in findings_of(last_compared(document)) if each.severity == "note")
    return tuple(each.says for each in notes if each.code not in _IN_DATA_ALONE)


def last_compared(document: Mapping[str, Any]) -> Mapping[str, Any]:
    """The round on which the record stands; a record without one is a bug."""
    found: Mapping[str, Any] = [each for each in document["rounds"] if "comparison" in each][-1]
    return found


def _round(document: Mapping[str, Any], each: Mapping[str, Any], clock: Clock) -> RoundShown:
    findings = [found for found in worst_first(findings_of(each)) if found.severity != "note"]
    independence = each.get("independence", {"grade": "", "earlier_look": False})
    return RoundShown(
        title=round_words(each["round"]),
        scope=_scope(each["scope"], kind_named(document["check"]["kind"])),
        touched=_put_right(each),
        voided=each["voided"],
        put_right_meanwhile=each["voided"] == PUT_RIGHT_MEANWHILE,
        compared_at=clock.short(each["compared_at"]) if "compared_at" in each else "",
        handed_in=tuple(
            (letter, clock.short(hand_in["at"])) for letter, hand_in in each.get("handed_in", {}).items()
        ),
        grade=independence_words(independence),
        earlier_look=independence["earlier_look"],
        findings=tuple(_finding(document, each["round"], found, clock) for found in findings),
        otherwise=_otherwise(document, each, findings),
    )


def _put_right(each: Mapping[str, Any]) -> str:
    """What was put right before a round, by whom and how a request for help was settled, where it says so."""
    if not each["touched"]:
        return ""
    said = listed([SOURCES[source].lower() for source in each["touched"]])
    if "put_right" not in each:
        return said
    helped = OUTCOMES[each["outcome"]].lower() if each.get("outcome") else ""
    why = each["put_right"]["why"] or helped
    return f"{said}, by {each['put_right']['by']}{f' ({why})' if why else ''}"


def _scope(scope: Mapping[str, Sequence[str]], kind: Kind) -> str:
    """What a round asked for, in words; a source without fields is read whole."""
    if len(scope) == len(kind.reads) and not any(scope.values()):
        return "everything"
    return "; ".join(
        f"{SOURCES[source].lower()}: {listed([field_named(name).label.lower() for name in fields])}"
        if fields
        else f"the whole {SOURCES[source].lower()}"
        for source, fields in scope.items()
    )


def _finding(document: Mapping[str, Any], number: int, found: Found, clock: Clock) -> FindingShown:
    kind = kind_named(document["check"]["kind"])
    settled = settle_in(document, number, found)
    touched = _touched(document, settled.round) if settled.how is How.PUT_RIGHT else []
    return FindingShown(
        severity=severity_words(found.severity, kind, found.about),
        field=finding_field_words(found.field),
        mark=mark_of(found, kind),
        lines=_lines(found),
        says=found.says,
        as_in=_as_in(document, number, found),
        title=code_words(found.code),
        how=settled.how,
        settled_at=clock.short(settled.at) if settled.at else "",
        settled_in=round_words(settled.round) if settled.round else "",
        together=_is_together(document, settled.round),
        put_right=listed([SOURCES[source].lower() for source in touched]) if touched else "",
        answers=_answers(document, found, settled.how, clock),
    )


def _as_in(document: Mapping[str, Any], number: int, found: Found) -> str:
    """The first earlier reading with this very finding, if there was one."""
    for each in document["rounds"]:
        if each["round"] < number and found.key in {other.key for other in findings_of(each)}:
            return round_words(each["round"])
    return ""


def _is_together(document: Mapping[str, Any], number: int | None) -> bool:
    rounds = [each for each in document["rounds"] if each["round"] == number]
    return any(each.get("independence", {}).get("grade") == Grade.TOGETHER for each in rounds)


def _touched(document: Mapping[str, Any], number: int | None) -> list[str]:
    return [source for each in document["rounds"] if each["round"] == number for source in each["touched"]]


def _lines(found: Found) -> tuple[Line, ...]:
    """A finding's readings: each text once, A over B where they differ; what is on record comes last."""
    values: dict[tuple[str, str], str | None] = {}
    on_record = []
    for name, text in sorted(found.readings.items(), key=_place):
        letter, _, source = name.partition(".")
        if letter in LETTERS:
            values[letter, source] = None if text is None else _in_words(found, text)
        else:
            on_record.append(Line(who="on record", sources=(), text=text))
    # A source that neither states has no part in the finding.
    stated = {source for (_, source), text in values.items() if text is not None}
    if found.code != "reading-missing":
        values = {key: text for key, text in values.items() if key[1] in stated}
    return (*lines_of(values), *on_record)


def _in_words(found: Found, text: str) -> str:
    """A reading on paper; *none* as the form has it of the field."""
    field = find_field(found.field)
    return (text == NONE and field and none_words(field.name)) or answer_words(text)


def _place(reading: tuple[str, str | None]) -> tuple[int, str]:
    """The sources in the order in which they are read, A before B."""
    letter, _, source = reading[0].partition(".")
    return (list(SOURCES).index(source) if source in SOURCES else 0, letter)


def _answers(document: Mapping[str, Any], found: Found, how: How, clock: Clock) -> tuple[Answer, ...]:
    if how is How.EXCEPTION:
        return tuple(
            Answer(
                who=f"{each['by']}, {clock.short(each['at'])}",
                reason=each["reason"],
                named=each["prescriber"],
                text="",
            )
            for each in document["exceptions"]
            if each["finding"] == found.key
        )
    words = {each.key: each.words for each in reasons_for(found.code)}
    given: dict[tuple[str, str, str], list[str]] = {}
    for each in document["acknowledgements"]:
        if each["finding"] == found.key:
            said = (words.get(each["reason"], each["reason"]), each["named"], each["text"])
            given.setdefault(said, []).append(f"{nurse_words(each['clinician'])} {clock.short(each['at'])}")
    return tuple(
        Answer(who=", ".join(who), reason=reason, named=named, text=text)
        for (reason, named, text), who in given.items()
    )


def _otherwise(
    document: Mapping[str, Any], each: Mapping[str, Any], findings: Sequence[Found]
) -> tuple[tuple[str, tuple[Line, ...]], ...]:
    """What was read otherwise than in the last round, where no finding of this round shows it."""
    last = last_compared(document)
    if "readings" not in each or each["round"] == last["round"]:
        return ()
    said = {found.field for found in findings}
    changed = []
    for field in EVERYTHING:
        now, then = values_of(field, last["readings"]), values_of(field, each["readings"])
        if not said & field.row.about and now != then:
            sources = {source for (letter, source) in then if now[letter, source] != then[letter, source]}
            kept = {key: text for key, text in then.items() if key[1] in sources}
            in_one = {key: text and text.replace(LINE_END, ", ") for key, text in kept.items()}
            changed.append((field.row.label, lines_of(in_one)))
    return tuple(changed)
