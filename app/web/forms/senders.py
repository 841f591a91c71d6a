"""The forms of who may send orders."""

from wtforms import HiddenField, StringField
from wtforms.validators import DataRequired

from app.web.forms.checking import TextForm


class SenderForm(TextForm):
    """What another system is called."""

    name = StringField("Name of the system", [DataRequired("Write the name.")])


class RevokeForm(TextForm):
    """Which sender is let in no more."""

    sender = HiddenField("Sender")
