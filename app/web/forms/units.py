"""The form of a unit's name."""

from wtforms import HiddenField, StringField
from wtforms.validators import DataRequired

from app.web.forms.checking import TextForm


class UnitForm(TextForm):
    """What a unit is called from now on."""

    unit = HiddenField("Unit")
    name = StringField("Name", [DataRequired("Write the name.")])
