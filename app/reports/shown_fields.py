"""What a record shows of each source: its label, how it is said, and which findings speak of it."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from app.quantities import set_off
from app.records.field_table import IN_MILLILITRES, LIMITS, STATES_NONE
from app.records.fields import ComparedRow, field_named, rows_from
from app.records.sources import NONE, Form, Source
from app.reports.times import day_in_words
from app.words.names import answer_words, none_words

STATES_NONE_WORDS = "states none"
IN_MILLILITRES_WORDS = "takes doses in mL"
# Where no concentration is written.
WITHOUT_ONE = {STATES_NONE: STATES_NONE_WORDS, IN_MILLILITRES: IN_MILLILITRES_WORDS}

# Between the lines of one answer.
LINE_END = "\n"

Said = Callable[[Mapping[str, str]], str | None]


@dataclass(frozen=True, kw_only=True)
class Shown:
    """A row of the comparison, and how one source's answers are said in it."""

    row: ComparedRow
    said: Said

    @property
    def by_mode(self) -> bool:
        """Whether the mode decides if it is asked."""
        asked_when = field_named(self.row.name).asked_when
        return asked_when is not None and asked_when.field == "mode"

    @property
    def from_one(self) -> bool:
        """Whether one of the two suffices for it."""
        return field_named(self.row.name).from_one

    @property
    def is_code(self) -> bool:
        """Whether it is a lot, a code or an id, whose zeros are struck through."""
        return field_named(self.row.name).form in {Form.TEXT, Form.CODE}


def _strength(answers: Mapping[str, str]) -> str | None:
    if answers.get("strength") in WITHOUT_ONE:
        return WITHOUT_ONE[answers["strength"]]
    if answers.get("amount") and answers.get("volume"):
        return set_off(f"{answers['amount']} in {answers['volume']}")
    said = _plain("concentration")(answers)
    # A label per mL says besides how much is in it.
    content = answers.get("content_volume")
    return f"{said}, {set_off(content)} in the syringe" if said and content else said


def _limits(answers: Mapping[str, str]) -> str | None:
    """All limits are one answer, each with its window: 2 mg in 1 h is another than 8 mg in 4 h."""
    told = [
        set_off(f"{answers[amount]} in {answers[window]}" if answers.get(window) else answers[amount])
        for amount, window in LIMITS
        if answers.get(amount, NONE) != NONE
    ]
    return LINE_END.join(told) or _plain("limit_amount")(answers)


def _staff_bolus(answers: Mapping[str, str]) -> str | None:
    names = ("staff_bolus_dose", "staff_bolus_interval", "staff_bolus_most", "staff_bolus_window")
    if not all(answers.get(name, NONE) != NONE for name in names):
        return _plain(names[0])(answers)
    dose, interval, most, window = (set_off(answers[name]) for name in names)
    return LINE_END.join((dose, f"every {interval},", f"at most {most} in {window}"))


def _plain(name: str) -> Said:
    # What a device does not show, or a patient cannot say, is another answer than nothing at all.
    form, none = field_named(name).form, none_words(name) or answer_words(NONE)

    def said(answers: Mapping[str, str]) -> str | None:
        text = answers.get(name)
        return none if text == NONE else text and _words(form, text)

    return said


def _words(form: Form, text: str) -> str:
    """An answer on paper; a name or a number on a label is never taken for one of our words."""
    match form:
        case Form.CHOICE:
            return answer_words(text)
        case Form.QUANTITY:
            return set_off(text)
        case Form.DATE | Form.MOMENT:
            return day_in_words(text)
        case _:
            return text


# Several answers of one row, said as one.
_TOGETHER: dict[str, Said] = {
    "concentration": _strength,
    "limit_amount": _limits,
    "staff_bolus_dose": _staff_bolus,
}


def _shown(rows: Iterable[ComparedRow]) -> tuple[Shown, ...]:
    return tuple(Shown(row=row, said=_TOGETHER.get(row.name) or _plain(row.name)) for row in rows)


WRISTBAND = _shown(rows_from(Source.WRISTBAND))
SETTINGS = _shown(rows_from(Source.ORDER))
CHART = _shown(rows_from(Source.CHART))
SYRINGE = _shown(rows_from(Source.LABEL, Source.DEVICE))
MONITOR = _shown(rows_from(Source.MONITOR))
TOTALS = _shown(rows_from(Source.TOTALS))
BEDSIDE = _shown(rows_from(Source.BEDSIDE))
EVERYTHING = (*WRISTBAND, *SETTINGS, *CHART, *SYRINGE, *MONITOR, *TOTALS, *BEDSIDE)
