"""What the list of findings is filtered by; it stands in the address, so no name and no value is among it."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from wtforms import SelectField, StringField

from app.web.forms.checking import TextForm
from app.words.checking import CODES
from app.words.names import SEVERITIES

_DATE = "Write a date as year-month-day: four digits, two, two, with hyphens."
_SEPARATOR = "~"


class FilterForm(TextForm):
    """Times, finding, severity and unit; blank means all."""

    first = StringField("First day")
    last = StringField("Last day")
    severity = SelectField(
        "Severity",
        choices={"": "All", **SEVERITIES},
    )
    code = SelectField("Finding", choices={"": "All", **CODES})
    unit = SelectField("Unit")

    def day(self, name: str) -> date | None:
        """The day in a field; None when it is blank, or wrong and then said so."""
        text = self.text(name)
        if not text:
            return None
        found = read_day(text)
        if found is None:
            self.refuse(name, _DATE)
        return found


def read_day(text: str) -> date | None:
    """A date as `YYYY-MM-DD` and in no other way; None for anything else."""
    try:
        found = date.fromisoformat(text)
    except ValueError:
        return None
    return found if found.isoformat() == text else None


def begin_of(day: date | None, zone: ZoneInfo) -> datetime | None:
    """The first moment of a day at the site."""
    return None if day is None else datetime.combine(day, time.min, zone).astimezone(UTC)


def end_of(day: date | None, zone: ZoneInfo) -> datetime | None:
    """The first moment after a day at the site."""
    return None if day is None else begin_of(day + timedelta(days=1), zone)


def write_place(place: tuple[datetime, str]) -> str:
    """Where the next page begins, for an address."""
    return f"{place[0].isoformat()}{_SEPARATOR}{place[1]}"


def find_place(text: str) -> tuple[datetime, str] | None:
    """What `write_place` wrote; None for anything else."""
    at, _, check = text.partition(_SEPARATOR)
    try:
        moment = datetime.fromisoformat(at)
    except ValueError:
        return None
    return (moment, check) if check and moment.tzinfo is not None else None
