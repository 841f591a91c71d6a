"""Forms of what is written down afterwards: the device was stopped, or an infusion started without a check.

Nothing in the first of them is mandatory, and nothing typed in it is refused: saving *stopped* never waits.
"""

import re
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from wtforms import RadioField, SelectField, StringField, TextAreaField
from wtforms.validators import DataRequired, Length

from app.records.beds import LONGEST_BED
from app.web.forms.checking import TextForm, offered
from app.words.names import STOP_REASONS

LONGEST_NOTE = 500


class StopForm(TextForm):
    """When, why, and the device's totals: each may be blank."""

    why = RadioField("Why", choices=dict(STOP_REASONS), validate_choice=False)
    stopped_at = StringField("When")
    totals = TextAreaField("Device totals and anything else")

    def reason(self) -> str:
        """The reason, where one of those offered was chosen."""
        return self.text("why") if self.text("why") in STOP_REASONS else ""


class StopAtForm(StopForm):
    """The same at a bed, which nobody has to name before *stopped* is saved."""

    unit = SelectField("Unit", validate_choice=False)
    bed = StringField("Bed")


class PlaceStopForm(TextForm):
    """Where a stop belongs that counted for nothing."""

    unit = SelectField("Unit", validate_choice=False)
    bed = StringField("Bed")


class WithoutCheckForm(TextForm):
    """An infusion that had to start when no check could be had in time."""

    unit = SelectField(
        "Unit", [DataRequired("Choose the unit."), offered("Choose the unit.")], validate_choice=False
    )
    bed = StringField(
        "Bed",
        [
            DataRequired("Write the bed."),
            Length(max=LONGEST_BED, message="Write only the bed's number or name."),
        ],
    )
    reason = TextAreaField(
        "Why no check could be had",
        [
            DataRequired("Say why."),
            Length(max=LONGEST_NOTE, message=f"Write at most {LONGEST_NOTE} characters."),
        ],
    )
    started_at = StringField("When it started")


_TIME_OF_DAY = re.compile(r"([01]?[0-9]|2[0-3])[:.]([0-5][0-9])")


def stated_moment(text: str, now: datetime, zone: ZoneInfo) -> str:
    """A stated time of day as the last such moment in the site's zone; anything else as typed, cut short."""
    matched = _TIME_OF_DAY.fullmatch(text.strip())
    if matched is None:
        return text.strip()[:LONGEST_NOTE]
    local = now.astimezone(zone)
    stated = local.replace(hour=int(matched[1]), minute=int(matched[2]), second=0, microsecond=0)
    if stated > local:
        stated -= timedelta(days=1)
    return stated.isoformat(timespec="minutes")
