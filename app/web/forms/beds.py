"""The form of a bed that is added to a unit."""

from wtforms import HiddenField, StringField
from wtforms.validators import DataRequired, Length

from app.records.beds import LONGEST_BED
from app.web.forms.checking import TextForm


class BedForm(TextForm):
    """A bed of a unit."""

    unit = HiddenField("Unit")
    bed = StringField(
        "Bed",
        [
            DataRequired("Write the bed."),
            Length(max=LONGEST_BED, message="Write only the bed's number or name."),
        ],
    )
