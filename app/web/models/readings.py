"""Two clinicians' readings as rows of a ledger: what is alike is said once, what is not is stacked."""

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

from app.comparison import CaseError, read_without_library
from app.comparison.fields import COMPARED_SOURCES, RISKS
from app.comparison.masses import masses_in
from app.comparison.readings import Amount
from app.quantities import Dimension, Quantity, set_off, show
from app.records.field_table import LIMITS, STRENGTHS_WITHOUT_ONE
from app.records.fields import ComparedRow, field_of, rows_from
from app.records.kept import FIRST, SECOND, A, B, KeptComparison
from app.records.kinds import Kind
from app.records.reading import NAMES, Answers, names_read, used
from app.records.sources import NONE, Field, Form, Source
from app.reports.times import day_in_words
from app.web.models.spine import Number, find_number, in_unit_of
from app.words.names import answer_words
from app.words.screens import source_words

# More than are looked at in one hour.
_CASES = 64


@dataclass(frozen=True, kw_only=True)
class Value:
    """One value as it is shown: on the spine where it is a number, in words or as a code where it is not.

    `mass` is what the volume of a device that takes its doses in mL holds.
    """

    number: Number | None = None
    mass: Number | None = None
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
        return len({each.where for each in self.lines}) == 1 and self.lines[0].value is not None

    @property
    def numbers(self) -> Iterator[Number]:
        """The numbers that need a place on the spine."""
        return (each.value.number for each in self.lines if each.value and each.value.number)


Strengths = Mapping[tuple[str, Source], Value]
Masses = Mapping[tuple[str, str], str]

# The ledger: the patient, what is to be given and from what, then what surrounds it.
_LEDGER = (
    *rows_from(Source.WRISTBAND),
    *rows_from(Source.ORDER),
    *rows_from(Source.LABEL, Source.DEVICE),
    *rows_from(Source.MONITOR),
    *rows_from(Source.CHART),
    *rows_from(Source.TOTALS),
    *rows_from(Source.BEDSIDE),
)


@dataclass(frozen=True, kw_only=True)
class Readings:
    """Both clinicians' latest answers that count, each strength as the engine reads it, the words of sets.

    `masses` are those in the volumes of a device that takes its doses in mL. `parts` says what the two are
    called.
    """

    answers: Mapping[str, Answers]
    strengths: Strengths
    masses: Masses
    packs: Mapping[str, str]
    parts: Mapping[str, str]
    kind: Kind

    def was_asked(self, letter: str, source: Source, field: Field) -> bool:
        """Whether this one of the two was to read it: not what one suffices for, nor the other's part."""
        slot = FIRST if letter == A else SECOND
        return not field.from_one and self.kind.is_asked_of(slot, source, field.name)


def readings(
    opened: Mapping[str, Any],
    packs: Mapping[str, str],
    kind: Kind,
    *,
    computed: tuple[Strengths, Masses] | None = None,
) -> Readings:
    """What a comparison kept of its case, ready to be shown."""
    answers = {
        letter: {source: used(given) for source, given in read.items()}
        for letter, read in opened["answers"].items()
    }
    strengths, masses = _computed(opened["case"]) if computed is None else computed
    return Readings(
        answers=answers,
        strengths=strengths,
        masses=masses,
        packs=packs,
        parts=kind.parts_by_letter,
        kind=kind,
    )


def readings_of(kept: KeptComparison, packs: Mapping[str, str], kind: Kind) -> Readings:
    """The same of a comparison that is looked at again and again: its case is read once for all."""
    return readings(kept.opened, packs, kind, computed=_computed_in(kept.case))


@dataclass(frozen=True, kw_only=True)
class NameRead:
    """Whose name it is by its source, and who read it so."""

    whose: str
    name: str
    who: str


def names_of(answers: Mapping[str, Answers], kind: Kind) -> tuple[NameRead, ...]:
    """The names that are compared with nothing, as they were read; what both read is said once."""
    return tuple(each for source, field in NAMES for each in _names(answers, source, field, kind))


def _names(answers: Mapping[str, Answers], source: Source, field: Field, kind: Kind) -> Iterator[NameRead]:
    by_name: dict[str, list[str]] = {}
    for letter, name in names_read(answers, source, field).items():
        by_name.setdefault(name, []).append(kind.parts_by_letter[letter])
    for name, each in by_name.items():
        whose = f"{field.label} on the {source_words(source.value).lower()}"
        yield NameRead(whose=whose, name=name, who=" and ".join(each))


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
    told: list[_Told] = []
    for source in sources:
        values = {letter: _values(read, row.name, source, letter) for letter in (A, B)}
        if any(values.values()):
            told += _told(read, field_of(source, row.name), source, values)
    lines = tuple(
        Line(where=where, value=value) for where, values in _once_if_alike(told) for value in values
    )
    return Row(
        label=row.label,
        about=row.about,
        sources=sources,
        lines=_in_one_unit(lines),
        is_risk=not row.about.isdisjoint(RISKS),
    )


# Where it was read, and what: several limits are one answer; no value was not entered.
_Told = tuple[str, tuple[Value | None, ...]]


def _told(
    read: Readings, field: Field, source: Source, values: Mapping[str, tuple[Value, ...]]
) -> Iterator[_Told]:
    where = source_words(source.value)
    if values[A] == values[B]:
        yield where, values[A]
        return
    for letter in (each for each in (A, B) if values[each] or read.was_asked(each, source, field)):
        yield f"{where}, {read.parts[letter]}", values[letter] or (None,)


def _once_if_alike(told: list[_Told]) -> list[_Told]:
    if len({values for _, values in told}) != 1:
        return told
    return [(" · ".join(where for where, _ in told), told[0][1])]


def _in_one_unit(lines: tuple[Line, ...]) -> tuple[Line, ...]:
    """Values below each other in the unit of the first, with what was read beside those that had another."""
    first = next((each.value.number for each in lines if each.value and each.value.number), None)
    return lines if first is None else tuple(_in_unit_of(first, each) for each in lines)


def _in_unit_of(first: Number, line: Line) -> Line:
    value = line.value
    if value is None or value.number is None:
        return line
    if value.mass is not None:
        return replace(line, value=replace(value, note=f"is {in_unit_of(first, value.mass).text}"))
    number = in_unit_of(first, value.number)
    if number == value.number:
        return line
    note = value.note or f"read as {value.text}"
    return replace(line, value=replace(value, number=number, words=number.text, note=note))


def _values(read: Readings, name: str, source: Source, letter: str) -> tuple[Value, ...]:
    """What one clinician read of a field in one source; none where it was not read."""
    given = read.answers[letter].get(source.value, {})
    if name == "limit_amount" and given.get(name) != NONE:
        told = {amount: _limit(given, amount, window) for amount, window in LIMITS}
    else:
        told = {name: _value(read, name, source, letter)}
    return tuple(
        replace(value, mass=find_number(_mass(read, key, source, letter)))
        for key, value in told.items()
        if value is not None
    )


def _mass(read: Readings, name: str, source: Source, letter: str) -> str:
    """The mass in a volume of the device; blank where there is none."""
    is_device = source is Source.DEVICE
    return read.masses.get((letter, field_of(source, name).finding), "") if is_device else ""


def _value(read: Readings, name: str, source: Source, letter: str) -> Value | None:
    given = read.answers[letter].get(source.value, {})
    match name:
        case "concentration":
            if given.get("strength") in STRENGTHS_WITHOUT_ONE:
                return Value(words=answer_words(given["strength"]))
            return _with_content(read.strengths.get((letter, source)), given)
        case "staff_bolus_dose" if given.get(name) not in (None, "", NONE):
            return _staff_bolus(given)
        case _:
            return _plain(field_of(source, name), given.get(name, ""), read.packs)


def _with_content(strength: Value | None, given: Mapping[str, str]) -> Value | None:
    """A label per mL says besides how much is in the syringe."""
    content = given.get("content_volume")
    if strength is None or not content:
        return strength
    return replace(strength, note=f"{set_off(content)} in the syringe")


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
        case Form.MOMENT if field.stamped:
            return Value(words=day_in_words(text))
        case Form.MOMENT:
            day, _, time = text.partition("T")
            return Value(words=f"{day} {time[:5]}".strip())
        case Form.TEXT | Form.CODE:
            return Value(words=text, is_code=True)
        case _:
            return Value(words=answer_words(text) if field.choices else text)


def _limit(given: Mapping[str, str], amount_name: str, window_name: str) -> Value | None:
    """Amount and window are one limit: 2 mg in 1 h is another than 8 mg in 4 h."""
    amount, window = given.get(amount_name, ""), given.get(window_name, "")
    if not amount:
        return None
    _, _, unit = amount.partition(" ")
    per = f"in {set_off(window)}" if window else "window not entered"
    return Value(number=find_number(amount, f"{unit} {per}"), words=f"{set_off(amount)} {per}")


def _staff_bolus(given: Mapping[str, str]) -> Value:
    """All of it is one order: the dose alone says nothing of how much may be given."""
    dose = given["staff_bolus_dose"]
    parts = (
        ("not more often than every", "staff_bolus_interval"),
        ("at most", "staff_bolus_most"),
        ("in", "staff_bolus_window"),
    )
    told = [f"{words} {set_off(given[name])}" for words, name in parts if given.get(name)]
    rest = ", ".join(told).replace(", in ", " in ")
    return Value(number=find_number(dose), words=set_off(dose), note=rest)


@lru_cache(maxsize=_CASES)
def _computed_in(case: bytes) -> tuple[Strengths, Masses]:
    return _computed(json.loads(case)["case"])


def _computed(case: Mapping[str, Any]) -> tuple[Strengths, Masses]:
    """The concentration by each clinician and source, and what a device's volumes hold: by the engine."""
    read = read_without_library(case)
    if isinstance(read, CaseError):
        return {}, {}
    strengths: dict[tuple[str, Source], Value] = {}
    for letter, entry in zip((A, B), read.entries, strict=True):
        for source in COMPARED_SOURCES:
            given = entry.source(source).find("concentration")
            if isinstance(given, Amount):
                strengths[letter, source] = _strength(given)
    return strengths, {(letter, field): mass for letter, field, mass in masses_in(read)}


def _strength(given: Amount) -> Value:
    shown = show(Quantity(value=given.value, dimension=Dimension.CONCENTRATION))
    mass, _, volume = given.typed.partition("/")
    typed = f"{mass} in {volume}" if volume[:1].isdigit() else given.typed
    return Value(number=find_number(shown), words=shown, note="" if given.typed == shown else set_off(typed))
