"""The base of all forms: text in, faults beside their fields, and nothing that was typed is lost."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date

from wtforms import Form, ValidationError
from wtforms.fields import Field
from wtforms.fields.choices import SelectFieldBase

from app.base.days import FIRST_YEAR, LAST_YEAR, read_day

LONGEST = 200
_DATE = (
    "Write a date as year-month-day: four digits, two, two, with hyphens; "
    f"a year from {FIRST_YEAR} to {LAST_YEAR}."
)


@dataclass(frozen=True, kw_only=True)
class Wrong:
    """One fault for the summary at the top of a page: which field, and how to write it."""

    field: str
    label: str
    says: str


class TextForm(Form):
    """A form of text fields; a text beyond the longest is refused before anything looks at it."""

    def wrong(self) -> Iterator[Wrong]:
        """Every fault, in the order of the fields."""
        for name, messages in self.errors.items():
            for says in messages:
                yield Wrong(field=name, label=str(self[name].label.text), says=str(says))

    def text(self, name: str) -> str:
        """What was typed in a field, without space at its ends; blank when nothing was."""
        return (self[name].data or "").strip()

    def day(self, name: str) -> date | None:
        """The day in a field; None when it is blank, or wrong and then said so."""
        found = read_day(self.text(name))
        if found is None and self.text(name):
            self.refuse(name, _DATE)
        return found

    def refuse(self, name: str, says: str) -> None:
        """Put a fault beside a field."""
        field: Field = self[name]
        field.errors = [*field.errors, says]

    def refuse_all(self, faults: Mapping[str, str]) -> None:
        """Put each fault beside its field."""
        for name, says in faults.items():
            self.refuse(name, says)


def offered(says: str) -> Callable[[Form, SelectFieldBase], None]:
    """Refuse what a choice does not offer, with these words; the field is told `validate_choice=False`."""

    def refuse(form: Form, field: SelectFieldBase) -> None:  # noqa: ARG001  # WTForms passes both
        chosen = field.data if isinstance(field.data, list) else [field.data]
        known = {value for value, *_ in field.iter_choices()}
        if not known.issuperset(chosen):
            raise ValidationError(says)

    return refuse
