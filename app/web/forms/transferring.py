"""The form of a patient who is taken from another unit."""

from wtforms import SelectField, StringField
from wtforms.validators import DataRequired, Length

from app.records.beds import LONGEST_BED
from app.web.forms.checking import TextForm, offered

_LONGEST = Length(max=LONGEST_BED, message="Write only the bed's number or name.")


class TakeForm(TextForm):
    """From which unit and bed, and to which bed of the own unit; `here` is the unit that the page showed."""

    unit = SelectField(
        "From unit", [DataRequired("Choose the unit."), offered("Choose the unit.")], validate_choice=False
    )
    before = StringField("From bed", [DataRequired("Write the bed that the patient comes from."), _LONGEST])
    bed = StringField("To bed", [DataRequired("Write the bed that the patient lies in now."), _LONGEST])
    here = StringField("Your unit")
