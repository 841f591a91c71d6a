"""The form of one source, made from the table of fields: empty, each quantity with its unit chosen."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from zoneinfo import ZoneInfo

from werkzeug.datastructures import MultiDict

from app.base.days import is_near
from app.judging.adults import adult_fault
from app.judging.identifiers import identifier_fault
from app.quantities import (
    DateOrder,
    Fault,
    parse_count,
    parse_date,
    parse_quantity,
    read_name,
    read_printed_number,
    show_date,
)
from app.quantities.scanned import read_scan
from app.records.field_table import IN_MILLILITRES
from app.records.measures import Measure
from app.records.sources import NONE, Field, Form, Source
from app.web.forms.checking import LONGEST, Wrong
from app.words.names import answer_words

OTHER = "other"
# No life that is known reached so many years.
_OLDEST = 125
_IDENTIFIER = "patient.identifier"
FROM_THE_SCAN = "From the scan. Look whether the same is printed."
# What the inputs of one field are called, after its name.
_PARTS = ("", "_unit", "_none", "_other", "_scanned")


@dataclass(frozen=True, kw_only=True)
class Input:
    """One field as a page shows it: what was typed, and what is wrong with it."""

    field: Field
    label: str
    units: tuple[str, ...]
    options: tuple[tuple[str, str], ...]
    typed: str
    unit: str
    none: bool
    other: str
    fault: str
    # What a scan filled in here, as long as it stands, and what is to be said about a scan.
    scanned: str = ""
    note: str = ""
    # In which order a date in digits is read here; blank where no date is asked.
    date_order: str = ""

    @property
    def unit_options(self) -> tuple[tuple[str, str], ...]:
        """The units as options to choose from."""
        return tuple((each, each) for each in self.units)


@dataclass(frozen=True, kw_only=True)
class ReadForm:
    """A filled-in source: the inputs for the page, the answers, and the faults.

    `is_back` of what its author left before a press kept it.
    """

    inputs: tuple[Input, ...]
    answers: dict[str, str]
    wrong: tuple[Wrong, ...]
    is_back: bool = False


@dataclass(frozen=True, kw_only=True)
class Offered:
    """What the site offers to choose from, and its own rules that a single value can be judged by."""

    drugs: tuple[str, ...]
    fluids: tuple[str, ...]
    packs: tuple[tuple[str, str], ...]
    levels: tuple[tuple[str, str], ...]
    scale: str
    zone: ZoneInfo
    today: date
    adult_age: int
    date_order: DateOrder = DateOrder.DAY_FIRST


def empty_form(fields: Iterable[Field], answers: Mapping[str, str], offered: Offered) -> ReadForm:
    """The form as it opens: empty, or with what this same person has written in it before."""
    inputs = tuple(
        _shown(each, _typed_from(each, answers.get(each.name, ""), offered), offered, "")
        for each in _typed_by_hand(fields)
    )
    return ReadForm(inputs=inputs, answers=dict(answers), wrong=())


def read_form(fields: Iterable[Field], form: MultiDict[str, str], offered: Offered) -> ReadForm:
    """Read what was posted; every text is kept as typed, right or wrong."""
    inputs, answers, wrong = [], {}, []
    for each in _typed_by_hand(fields):
        typed = _Typed(
            text=form.get(each.name, "").strip(),
            unit=form.get(f"{each.name}_unit", ""),
            none=bool(form.get(f"{each.name}_none")),
            other=form.get(f"{each.name}_other", "").strip(),
            scanned=form.get(f"{each.name}_scanned", ""),
        )
        answer = _answer(each, typed, offered)
        says = answer.says if isinstance(answer, Fault) else ""
        if isinstance(answer, Fault):
            wrong.append(Wrong(field=each.name, label=each.label, says=says))
        elif answer:
            answers[each.name] = answer
        inputs.append(_shown(each, typed, offered, says))
    for place, shown in enumerate(inputs):
        if says := _of_other_kind(shown.field, answers):
            inputs[place] = replace(shown, fault=says)
            wrong.append(Wrong(field=shown.field.name, label=shown.label, says=says))
    return ReadForm(inputs=tuple(inputs), answers=answers, wrong=tuple(wrong))


def _typed_by_hand(fields: Iterable[Field]) -> Iterator[Field]:
    return (each for each in fields if not each.stamped)


def _of_other_kind(field: Field, answers: Mapping[str, str]) -> str:
    """What is wrong with a dose in mL on a device that has a concentration set, and the other way about."""
    _, _, unit = answers.get(field.name, "").partition(" ")
    strength = answers.get("strength")
    if not unit or strength is None or field.measure is None or field.measure.or_else is None:
        return ""
    is_volume = unit in field.measure.or_else.units
    if is_volume is (strength == IN_MILLILITRES):
        return ""
    said = answer_words(IN_MILLILITRES)
    if is_volume:
        return f"In mL only where the device has no concentration set. Say so above: {said}."
    return f"You said of the strength, above: {said}. Then this is in mL, too."


def typed_in(fields: Iterable[Field], form: MultiDict[str, str]) -> dict[str, str]:
    """What stands in the inputs of these fields, by their names; what is too long stays too long."""
    names = (f"{each.name}{part}" for each in _typed_by_hand(fields) for part in _PARTS)
    return {name: form[name][: LONGEST + 1] for name in names if form.get(name)}


def typed_form(fields: Iterable[Field], typed: Mapping[str, str], offered: Offered) -> ReadForm:
    """The form as its author left it, without a word about what is not finished."""
    left = read_form(fields, MultiDict(typed), offered)
    return replace(
        left, inputs=tuple(replace(each, fault="") for each in left.inputs), wrong=(), is_back=True
    )


@dataclass(frozen=True, kw_only=True)
class _Typed:
    text: str = ""
    unit: str = ""
    none: bool = False
    other: str = ""
    scanned: str = ""


def _fault(says: str) -> Fault:
    return Fault(code="shape", says=says)


def _answer(field: Field, typed: _Typed, offered: Offered) -> str | Fault:
    if len(typed.text) > LONGEST or len(typed.other) > LONGEST:
        return _fault(f"Write at most {LONGEST} characters.")
    if typed.none and field.may_be_none:
        return _fault("Say either none or a value, not both.") if typed.text else NONE
    return _READ[field.form](field, typed, offered)


def _quantity(field: Field, typed: _Typed) -> str | Fault:
    if not typed.text:
        return ""
    measure = field.number
    unit = field.units[0] if len(field.units) == 1 else typed.unit
    if unit not in field.units:
        return _without_unit(measure, typed)
    measure = measure.counted_in(unit)
    text = f"{typed.text} {unit}"
    read = parse_quantity(text, measure.dimension, zero_allowed=measure.zero_allowed, allowed=measure.allowed)
    return read if isinstance(read, Fault) else text


def _count(text: str) -> str | Fault:
    if not text:
        return ""
    read = parse_count(text)
    return read if isinstance(read, Fault) else text


def _without_unit(measure: Measure, typed: _Typed) -> Fault:
    """What is wrong with how the number is written is said at once, with the unit that lacks."""
    says = "Choose the unit as the source gives it."
    if any(sign.isalpha() for sign in typed.text):
        return _fault(says)
    number = parse_quantity(f"{typed.text} {measure.units[0]}", measure.dimension, zero_allowed=True)
    return _fault(f"{number.says} {says}" if isinstance(number, Fault) else says)


def _text(field: Field, text: str, offered: Offered) -> str | Fault:
    """A scanner types wherever the caret is: a whole code is no lot and nobody's number."""
    if field.from_scan and text:
        read = read_scan(text, offered.today)
        if not isinstance(read, Fault) and len(read) > 1:
            return _fault("This is a whole code. Scan it in the line for a scan, or write what is printed.")
    if field.finding == _IDENTIFIER and text:
        return _identifier(field, text, offered)
    return text if field.from_scan else read_printed_number(text)


def _identifier(field: Field, text: str, offered: Offered) -> str | Fault:
    """Who the patient is; paper may give the end alone, and where a scanner typed it, all of it is there."""
    if field.from_scan:
        # The wristband has its own line for a scan.
        return identifier_fault(text, by_its_end=False) or text
    scanned = read_scan(text, offered.today)
    whole = "" if isinstance(scanned, Fault) else scanned.get("identifier", "")
    return whole or identifier_fault(text, by_its_end=True) or text


def _chosen(text: str, choices: tuple[str, ...]) -> str | Fault:
    return text if text in ("", *choices) else _fault("Choose one of the answers.")


def _named(typed: _Typed, known: tuple[str, ...]) -> str | Fault:
    if typed.other and typed.text not in ("", OTHER):
        return _fault("Choose a name or write another, not both.")
    if typed.text == OTHER or typed.other:
        return typed.other or _fault("Write the name as the source gives it.")
    return _chosen(typed.text, known)


def _birth_date(text: str, offered: Offered) -> str | Fault:
    if not text:
        return ""
    born = parse_date(text, offered.date_order)
    if isinstance(born, Fault):
        return born
    if born > offered.today:
        return _fault("This day has not come yet. Look at the source and read it again.")
    if offered.today.year - born.year > _OLDEST:
        return _fault("Nobody is as old as this. Look at the year and read it again.")
    return adult_fault(born, offered.today, offered.adult_age) or born.isoformat()


def _moment(text: str, zone: ZoneInfo) -> str | Fault:
    """A date, or a date and a time of day in the site's zone."""
    if not text:
        return ""
    try:
        read, written = _read_moment(text, zone)
    except ValueError:
        return _fault(
            "Write a date as year-month-day, and a time of day after a space where the label has one."
        )
    return written if is_near(read) else _fault("This cannot be the year. Look at it and read it again.")


def _read_moment(text: str, zone: ZoneInfo) -> tuple[date, str]:
    """When it begins, and how it is kept."""
    if len(text) == len("YYYY-MM"):
        month = datetime.strptime(text, "%Y-%m")  # noqa: DTZ007  # a month has no zone
        return month, month.strftime("%Y-%m")
    if len(text) == len("YYYY-MM-DD"):
        day = date.fromisoformat(text)
        return day, day.isoformat()
    moment = datetime.strptime(text, "%Y-%m-%d %H:%M").replace(tzinfo=zone)
    return moment, moment.isoformat(timespec="minutes")


_READ: dict[Form, Callable[[Field, _Typed, Offered], str | Fault]] = {
    Form.QUANTITY: lambda field, typed, _: _quantity(field, typed),
    Form.COUNT: lambda _, typed, __: _count(typed.text),
    Form.CHOICE: lambda field, typed, _: _chosen(typed.text, field.choices),
    Form.DRUG: lambda _, typed, offered: _named(typed, offered.drugs),
    Form.FLUID: lambda _, typed, offered: _named(typed, offered.fluids),
    Form.PACK: lambda _, typed, offered: _chosen(typed.text, tuple(key for key, __ in offered.packs)),
    Form.LEVEL: lambda _, typed, offered: _chosen(typed.text, tuple(text for text, __ in offered.levels)),
    Form.DATE: lambda _, typed, offered: _birth_date(typed.text, offered),
    Form.MOMENT: lambda _, typed, offered: _moment(typed.text, offered.zone),
    Form.TEXT: lambda field, typed, offered: _text(field, typed.text, offered),
    Form.NAME: lambda _, typed, __: read_name(typed.text),
    Form.CODE: lambda _, typed, __: typed.text,
}


def _options(field: Field, offered: Offered) -> tuple[tuple[str, str], ...]:
    """What there is to choose from, each with its words."""
    match field.form:
        case Form.CHOICE:
            return tuple((each, answer_words(each)) for each in field.choices)
        case Form.PACK:
            return offered.packs
        case Form.LEVEL:
            return offered.levels
        case Form.DRUG:
            return tuple((each, each) for each in offered.drugs)
        case Form.FLUID:
            return tuple((each, each) for each in offered.fluids)
        case _:
            return ()


def _shown(field: Field, typed: _Typed, offered: Offered, fault: str) -> Input:
    is_scanned = bool(typed.text) and typed.text == typed.scanned
    return Input(
        field=field,
        # One level means another thing by another scale.
        label=f"{field.label}, {offered.scale}" if field.form is Form.LEVEL else field.label,
        units=field.units,
        options=_options(field, offered),
        typed=typed.text,
        unit=typed.unit,
        none=typed.none,
        other=typed.other,
        fault=fault,
        scanned=typed.scanned if is_scanned else "",
        note=FROM_THE_SCAN if is_scanned else "",
        date_order=offered.date_order.value if field.form is Form.DATE else "",
    )


def _typed_from(field: Field, answer: str, offered: Offered) -> _Typed:
    """What the author typed, from the answer that was kept of it."""
    if not answer:
        return _Typed()
    if answer == NONE and field.may_be_none:
        return _Typed(none=True)
    match field.form:
        case Form.QUANTITY:
            number, _, unit = answer.partition(" ")
            return _Typed(text=number, unit=unit)
        case Form.DRUG | Form.FLUID:
            known = offered.drugs if field.form is Form.DRUG else offered.fluids
            return _Typed(text=answer) if answer in known else _Typed(text=OTHER, other=answer)
        case Form.DATE:
            return _Typed(text=show_date(date.fromisoformat(answer)))
        case Form.MOMENT if "T" in answer:
            local = datetime.fromisoformat(answer).astimezone(offered.zone)
            return _Typed(text=local.strftime("%Y-%m-%d %H:%M"))
        case _:
            return _Typed(text=answer)


def source_named(name: str) -> Source | None:
    """The source of that name, if there is one."""
    return next((source for source in Source if source.value == name), None)
