"""The base of all forms: text in, faults beside their fields, and nothing that was typed is lost."""

from collections.abc import Iterator
from dataclasses import dataclass

from werkzeug.datastructures import MultiDict
from wtforms import Form, StringField
from wtforms.fields import Field

LONGEST = 200


@dataclass(frozen=True, kw_only=True)
class Wrong:
    """One fault for the summary at the top of a page: which field, and how to write it."""

    field: str
    label: str
    says: str


class TextForm(Form):  # type: ignore[misc]  # WTForms' form class is typed as Any
    """A form of text fields; a text beyond the longest is refused before anything looks at it."""

    def wrong(self) -> Iterator[Wrong]:
        """Every fault, in the order of the fields."""
        for name, messages in self.errors.items():
            if name is None:
                continue
            for says in messages:
                yield Wrong(field=name, label=str(self[name].label.text), says=str(says))

    def text(self, name: str) -> str:
        """What was typed in a field, without space at its ends; blank when nothing was."""
        return (self[name].data or "").strip()

    def refuse(self, name: str, says: str) -> None:
        """Put a fault beside a field."""
        field: Field = self[name]
        field.errors = [*field.errors, says]


def within_length(form: Form, field: StringField) -> None:  # noqa: ARG001  # WTForms passes both
    """Refuse what no label or order ever holds."""
    from wtforms import ValidationError  # noqa: PLC0415

    if field.data and len(field.data) > LONGEST:
        message = f"Write at most {LONGEST} characters."
        raise ValidationError(message)


def from_answers(answers: dict[str, str]) -> MultiDict[str, str]:
    """Form data that shows answers given earlier, to the person who gave them."""
    return MultiDict(answers)
