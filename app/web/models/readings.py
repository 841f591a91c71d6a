"""Two clinicians' readings as rows of a ledger: what is alike is said once, what is not is stacked."""

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

from app.comparison import CaseError, read_without_library
from app.comparison.fields import COMPARED_SOURCES, RISKS
from app.comparison.readings import Amount
from app.quantities import Dimension, Quantity, set_off, show
from app.records.field_table import STATES_NONE
from app.records.fields import ComparedRow, field_of, rows_from
from app.records.kept import A, B, KeptComparison
from app.records.kinds import Kind
from app.records.reading import Answers, used
from app.records.sources import NONE, Field, Form, Source
from app.web.models.spine import Number, find_number, in_unit_of
from app.words.names import answer_words
from app.words.screens import source_words

# More than are looked at in one hour.
_CASES = 64


@dataclass(frozen=True, kw_only=True)
class Value:
    """One value as it is shown: on the spine where it is a number, in words or as a code where it is not."""

    number: Number | None = None
    words: str = ""
    note: str = ""
    is_code: bool = False

    @property
    def text(self) -> str:
        """The value in one line."""
        return self.number.text if self.number else self.words


@dataclass(frozen=True, kw_only=True)
class Line:
    """One value and where it was read; no value means that it was not entered."""

    where: str
    value: Value | None


@dataclass(frozen=True, kw_only=True)
class Row:
    """One field; `about` are the names under which findings speak of it.

    `is_risk`: of two answers the riskier counts.
    """

    label: str
    about: frozenset[str]
    sources: tuple[Source, ...]
    lines: tuple[Line, ...]
    is_risk: bool

    @property
    def shared(self) -> bool:
        """Whether more than one source gives it."""
        return len(self.sources) > 1

    @property
    def alike(self) -> bool:
        """Whether everybody read the same everywhere."""
        return len(self.lines) == 1 and self.lines[0].value is not None

    @property
    def numbers(self) -> Iterator[Number]:
        """The numbers that need a place on the spine."""
        return (each.value.number for each in self.lines if each.value and each.value.number)


Strengths = Mapping[tuple[str, Source], Value]

# The ledger: the patient, what is to be given and from what, then what surrounds it.
_LEDGER = (
    *rows_from(Source.WRISTBAND),
    *rows_from(Source.ORDER),
    *rows_from(Source.LABEL, Source.DEVICE),
    *rows_from(Source.MONITOR),
    *rows_from(Source.CHART),
)


@dataclass(frozen=True, kw_only=True)
class Readings:
    """Both clinicians' latest answers that count, each strength as the engine reads it, the words of sets.

    `parts` says what the two are called.
    """

    answers: Mapping[str, Answers]
    strengths: Strengths
    packs: Mapping[str, str]
    parts: Mapping[str, str]


def readings(
    opened: Mapping[str, Any],
    packs: Mapping[str, str],
    kind: Kind,
    *,
    strengths: Strengths | None = None,
) -> Readings:
    """What a comparison kept of its case, ready to be shown."""
    answers = {
        letter: {source: used(given) for source, given in read.items()}
        for letter, read in opened["answers"].items()
    }
    strengths = _strengths(opened["case"]) if strengths is None else strengths
    return Readings(answers=answers, strengths=strengths, packs=packs, parts=kind.parts_by_letter)


def readings_of(kept: KeptComparison, packs: Mapping[str, str], kind: Kind) -> Readings:
    """The same of a comparison that is looked at again and again: its case is read once for all."""
    return readings(kept.opened, packs, kind, strengths=_strengths_in(kept.case))


def rows_of(read: Readings) -> tuple[Row, ...]:
    """Every field that at least one of the two read, in the order of the ledger."""
    made = (_row(read, each, each.sources) for each in _LEDGER)
    return tuple(row for row in made if any(line.value for line in row.lines))


def rows_on_device(read: Readings) -> tuple[Row, ...]:
    """What the device must show at the last look; no continuous part is said, not left out."""
    made = [(each, _row(read, each, (Source.DEVICE,))) for each in _LEDGER if each.last_look]
    return tuple(
        row if row.lines else replace(row, lines=(_NO_CONTINUOUS,))
        for each, row in made
        if row.lines or each.name == "continuous_rate"
    )


_NO_CONTINUOUS = Line(where=source_words(Source.DEVICE.value), value=Value(words="No continuous part"))


def _row(read: Readings, row: ComparedRow, sources: tuple[Source, ...]) -> Row:
    lines = []
    for source in sources:
        values = {letter: _value(read, row.name, source, letter) for letter in (A, B)}
        if values[A] is None and values[B] is None:
            continue
        lines += list(_lines(field_of(source, row.name), source, values, read.parts))
    return Row(
        label=row.label,
        about=row.about,
        sources=sources,
        lines=_in_one_unit(_once_if_alike(lines)),
        is_risk=not row.about.isdisjoint(RISKS),
    )


def _lines(
    field: Field, source: Source, values: Mapping[str, Value | None], parts: Mapping[str, str]
) -> Iterator[Line]:
    where = source_words(source.value)
    if values[A] == values[B]:
        yield Line(where=where, value=values[A])
        return
    # Where one suffices, the other was not asked.
    for letter in (each for each in (A, B) if values[each] is not None or not field.from_one):
        yield Line(where=f"{where}, {parts[letter]}", value=values[letter])


def _once_if_alike(lines: Iterable[Line]) -> tuple[Line, ...]:
    every = tuple(lines)
    if len({each.value for each in every}) != 1:
        return every
    return (Line(where=" · ".join(each.where for each in every), value=every[0].value),)


def _in_one_unit(lines: tuple[Line, ...]) -> tuple[Line, ...]:
    """Values below each other in the unit of the first, with what was read beside those that had another."""
    first = next((each.value.number for each in lines if each.value and each.value.number), None)
    return lines if first is None else tuple(_in_unit_of(first, each) for each in lines)


def _in_unit_of(first: Number, line: Line) -> Line:
    if line.value is None or line.value.number is None:
        return line
    number = in_unit_of(first, line.value.number)
    if number == line.value.number:
        return line
    note = line.value.note or f"read as {line.value.text}"
    return replace(line, value=replace(line.value, number=number, words=number.text, note=note))


def _value(read: Readings, name: str, source: Source, letter: str) -> Value | None:
    given = read.answers[letter].get(source.value, {})
    match name:
        case "concentration":
            if given.get("strength") == STATES_NONE:
                return Value(words=answer_words(STATES_NONE))
            return read.strengths.get((letter, source))
        case "limit_amount" if given.get(name) not in (None, "", NONE):
            return _limit(given[name], given.get("limit_window", ""))
        case _:
            return _plain(field_of(source, name), given.get(name, ""), read.packs)


def written(read: Readings, letter: str, source: Source, field: Field) -> str:
    """One answer in words, as its author wrote it; blank where it was not read, or not asked."""
    text = read.answers[letter].get(source.value, {}).get(field.name, "")
    value = _plain(field, text, read.packs)
    return value.text if value else ""


def _plain(field: Field, text: str, packs: Mapping[str, str]) -> Value | None:
    if not text:
        return None
    if text == NONE and field.may_be_none:
        return Value(words=field.none)
    match field.form:
        case Form.QUANTITY:
            return Value(number=find_number(text), words=set_off(text))
        case Form.PACK:
            return Value(words=packs.get(text, text))
        case Form.MOMENT:
            day, _, time = text.partition("T")
            return Value(words=f"{day} {time[:5]}".strip())
        case Form.TEXT | Form.CODE:
            return Value(words=text, is_code=True)
        case _:
            return Value(words=answer_words(text) if field.choices else text)


def _limit(amount: str, window: str) -> Value:
    """Amount and window are one limit: 2 mg in 1 h is another than 8 mg in 4 h."""
    _, _, unit = amount.partition(" ")
    per = f"in {set_off(window)}" if window else "window not entered"
    return Value(number=find_number(amount, f"{unit} {per}"), words=f"{set_off(amount)} {per}")


@lru_cache(maxsize=_CASES)
def _strengths_in(case: bytes) -> Strengths:
    return _strengths(json.loads(case)["case"])


def _strengths(case: Mapping[str, Any]) -> Strengths:
    """The concentration by each clinician and source, as the engine reads it."""
    read = read_without_library(case)
    if isinstance(read, CaseError):
        return {}
    found: dict[tuple[str, Source], Value] = {}
    for letter, entry in zip((A, B), read.entries, strict=True):
        for source in COMPARED_SOURCES:
            given = entry.source(source).find("concentration")
            if isinstance(given, Amount):
                found[letter, source] = _strength(given)
    return found


def _strength(given: Amount) -> Value:
    shown = show(Quantity(value=given.value, dimension=Dimension.CONCENTRATION))
    mass, _, volume = given.typed.partition("/")
    typed = f"{mass} in {volume}" if volume[:1].isdigit() else given.typed
    return Value(number=find_number(shown), words=shown, note="" if given.typed == shown else set_off(typed))
