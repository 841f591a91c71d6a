"""Forms of opening and joining a check: unit and bed, or a code; never a patient."""

from wtforms import SelectField, StringField
from wtforms.validators import DataRequired, Length

from app.records.beds import LONGEST_BED
from app.web.forms.checking import TextForm, offered

LONGEST_CODE = 40
_LONGEST_NUMBER = 6


class PlaceForm(TextForm):
    """Unit and bed; in an installation for training also the number of the cards that lie there."""

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
    cards = StringField(
        "Number of the cards", [Length(max=_LONGEST_NUMBER, message="Write only the number of the set.")]
    )


class CodeForm(TextForm):
    """The short code that the first person's screen shows."""

    code = StringField(
        "Code", [DataRequired("Write the code."), Length(max=LONGEST_CODE, message="That is too long.")]
    )
