"""The forms of a proposal: its document travels with it from the comparison on, and nothing of it is lost."""

from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

from wtforms import HiddenField, StringField, TextAreaField
from wtforms.validators import DataRequired, Length

from app.base.days import read_day
from app.records.shifts import is_time_of_day
from app.web.forms.checking import TextForm

LONGEST_REASON = 400
_SHORTER = f"Write at most {LONGEST_REASON} characters."


class ProposeForm(TextForm):
    """Why, and from when; `content` is the document as it was compared, `against` the digest of with what."""

    content = HiddenField("Document")
    against = HiddenField("Compared with")
    why = TextAreaField("Why", [DataRequired("Say why."), Length(max=LONGEST_REASON, message=_SHORTER)])
    from_day = StringField("In force from the day")
    from_time = StringField("In force from the time")

    def in_force_from(self, zone: ZoneInfo) -> datetime | None:
        """The moment that was written in the site's zone; None where it is its approval, or is wrong."""
        day, at = self.text("from_day"), self.text("from_time")
        if not day and not at:
            return None
        found = read_day(day)
        if found is None:
            self.refuse("from_day", "Write a date as year-month-day, or leave day and time blank.")
        if not is_time_of_day(at):
            self.refuse("from_time", "Write a time of day such as 07:00, or leave day and time blank.")
        return _moment(found, at, zone) if found and is_time_of_day(at) else None


def _moment(day: date, at: str, zone: ZoneInfo) -> datetime:
    return datetime.combine(day, time.fromisoformat(at), zone).astimezone(UTC)


class RefuseForm(TextForm):
    """Why a proposal is refused; its proposer reads it."""

    no = TextAreaField("Why not", [DataRequired("Say why."), Length(max=LONGEST_REASON, message=_SHORTER)])
