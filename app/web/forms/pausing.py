"""The form of the look before a paused line runs on; a pause itself asks nothing but one tap."""

from wtforms import IntegerField, RadioField, StringField
from wtforms.validators import Length, Optional

from app.records.pauses import LET_OUT, NO_PRESSURE
from app.web.forms.checking import LONGEST, TextForm

PRESSURE = {
    LET_OUT: "Let out, with the line off the patient",
    NO_PRESSURE: "None: nothing was blocked",
}


class ResumeForm(TextForm):
    """Line, patient and device, of which nothing is asked here: what was left out keeps back no stop.

    `pause` and `in_force` are what the page showed.
    """

    pause = IntegerField("Pause", [Optional()])
    in_force = StringField("In force", [Length(max=LONGEST)])
    pressure = RadioField("Pressure in the line", [Optional()], choices=PRESSURE, validate_choice=False)
    sedation = RadioField("Sedation", [Optional()], validate_choice=False)
    respiratory_rate = StringField(
        "Respiratory rate", [Length(max=LONGEST, message="Write only the number.")]
    )
    same = StringField("The device")
