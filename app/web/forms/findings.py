"""What the list of findings is filtered by; it stands in the address, so no name and no value is among it."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from wtforms import SelectField, StringField

from app.base.days import read_moment
from app.storage import FindingPlace, is_storable
from app.web.forms.checking import TextForm
from app.words.checking import CODES, SETTLED
from app.words.findings import GRADES, ORIGINS, SEVERITY_CHOICES, SLIP_CHOICES
from app.words.reviewing import STATES

_SEPARATOR = "~"


class FilterForm(TextForm):
    """What the list is filtered by; blank means all."""

    first = StringField("First day")
    last = StringField("Last day")
    unit = SelectField("Unit")
    drug = SelectField("Drug")
    severity = SelectField("Severity", choices={"": "All", **SEVERITY_CHOICES})
    code = SelectField("Finding", choices={"": "All", **CODES})
    slip = SelectField("Consistent with", choices={"": "All", **SLIP_CHOICES})
    origin = SelectField("Where it arose", choices={"": "All", **ORIGINS})
    independence = SelectField("How the two read", choices={"": "All", **GRADES})
    settled = SelectField("How it came to rest", choices={"": "All", **SETTLED})
    review = SelectField("What was done with it", choices={"": "All", **STATES})

    @property
    def chosen(self) -> dict[str, str]:
        """What was chosen of each list."""
        return {each.name: each.data or "" for each in self if isinstance(each, SelectField)}


class ToClassifyForm(TextForm):
    """Of what is shown what waits."""

    sample = SelectField("Of what")


def begin_of(day: date | None, zone: ZoneInfo) -> datetime | None:
    """The first moment of a day at the site."""
    return None if day is None else datetime.combine(day, time.min, zone).astimezone(UTC)


def end_of(day: date | None, zone: ZoneInfo) -> datetime | None:
    """The first moment after a day at the site."""
    return None if day is None else begin_of(day + timedelta(days=1), zone)


def write_place(place: FindingPlace) -> str:
    """Where the next page begins, for an address."""
    return _SEPARATOR.join((place.compared_at.isoformat(), *map(str, place[1:])))


def find_place(text: str) -> FindingPlace | None:
    """What `write_place` wrote; None for anything else."""
    try:
        at, check, subject, number_of_round, number = text.split(_SEPARATOR)
        rest = check, subject, int(number_of_round), int(number)
    except ValueError:
        return None
    moment = read_moment(at)
    return FindingPlace(moment, *rest) if moment and check and all(map(is_storable, rest)) else None
