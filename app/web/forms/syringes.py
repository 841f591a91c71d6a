"""Which accounts that did not add up are wanted, and where a page of them begins, as the address has it."""

from datetime import datetime

from wtforms import SelectField, StringField
from wtforms.validators import Length

from app.base.days import read_moment
from app.storage import is_storable
from app.web.forms.checking import TextForm

_SEPARATOR = "~"


class AccountsForm(TextForm):
    """Blank means all; no name is among it."""

    first = StringField("First day")
    last = StringField("Last day")
    unit = SelectField("Unit")
    staff_number = StringField("Person, by staff number", [Length(max=40, message="Write at most 40 signs.")])

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
    moment = read_moment(at)
    return (moment, check) if moment and check and is_storable(check) else None
