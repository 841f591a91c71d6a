"""What a trend is of: a unit or all, and how far back."""

from wtforms import SelectField, StringField
from wtforms.validators import Length

from app.web.forms.checking import TextForm

MONTHS = {"12": "12 months", "24": "24 months", "60": "5 years"}
USUAL = "24"


class TrendForm(TextForm):
    """It stands in the address: no name and no value is among it. Of a device accounts alone are told."""

    months = SelectField("How far back", choices=MONTHS)
    unit = SelectField("Unit")
    device = StringField("Device, by its serial number", [Length(max=40, message="Write at most 40 signs.")])
