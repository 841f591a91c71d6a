"""The form of a look before a bolus given by staff, or at its peak."""

from wtforms import RadioField, StringField
from wtforms.validators import Length, Optional

from app.web.forms.checking import LONGEST, TextForm


class BolusLookForm(TextForm):
    """Sedation and respiratory rate, of which nothing is asked here: what is outside waits for no answer."""

    sedation = RadioField("Sedation", [Optional()], validate_choice=False)
    respiratory_rate = StringField(
        "Respiratory rate", [Length(max=LONGEST, message="Write only the number.")]
    )
