"""The forms of a bolus given by staff: a look before it or at its peak, and when it was given."""

from wtforms import RadioField, StringField
from wtforms.validators import Length, Optional

from app.web.forms.checking import LONGEST, TextForm


class BolusGivenForm(TextForm):
    """When it was given, where that is told later; it may be blank."""

    given_at = StringField("When it was given")


class BolusLookForm(TextForm):
    """Sedation and respiratory rate, of which nothing is asked here: what is outside waits for no answer."""

    sedation = RadioField("Sedation", [Optional()], validate_choice=False)
    respiratory_rate = StringField(
        "Respiratory rate", [Length(max=LONGEST, message="Write only the number.")]
    )
