"""Which accounts that did not add up are wanted, and where a page of them begins, as the address has it."""

from datetime import date, datetime

from wtforms import SelectField, StringField
from wtforms.validators import Length

from app.storage import is_storable
from app.web.forms.checking import TextForm
from app.web.forms.findings import read_day

_SEPARATOR = "~"


_DATE = "Write a date as year-month-day: four digits, two, two, with hyphens."


class AccountsForm(TextForm):
    """Blank means all; no name is among it."""

    first = StringField("First day")
    last = StringField("Last day")
    unit = SelectField("Unit")
    staff_number = StringField("Person, by staff number", [Length(max=40, message="Write at most 40 signs.")])

    def day(self, name: str) -> date | None:
        """The day in a field; None when it is blank, or wrong and then said so."""
        found = read_day(self.text(name))
        if found is None and self.text(name):
            self.refuse(name, _DATE)
        return found

    @property
    def filters(self) -> dict[str, str]:
        """What is filtered by, as it stands in the address."""
        return {each.name: self.text(each.name) for each in self if self.text(each.name)}


def write_account_place(place: tuple[datetime, str]) -> str:
    """When its last check ended, and which that was."""
    return _SEPARATOR.join((place[0].isoformat(), place[1]))


def find_account_place(text: str) -> tuple[datetime, str] | None:
    """What `write_account_place` wrote; None for anything else."""
    at, _, check = text.partition(_SEPARATOR)
    try:
        moment = datetime.fromisoformat(at)
    except ValueError:
        return None
    return (moment, check) if check and moment.tzinfo is not None and is_storable(check) else None
