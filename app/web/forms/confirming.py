"""Forms that one nurse fills in on a screen where either may be signed in."""

from wtforms import PasswordField, RadioField, StringField, TextAreaField
from wtforms.validators import InputRequired, Length

from app.web.forms.checking import LONGEST, TextForm
from app.web.forms.signing_in import LONGEST_SECRET

LONGEST_NOTE = 500


class ConfirmForm(TextForm):
    """Whose part it is; id and secret when that is not whoever is signed in."""

    by = StringField("Nurse")
    login = StringField("Id", [Length(max=100)])
    secret = PasswordField("Secret", [Length(max=LONGEST_SECRET)])


class AcknowledgeForm(ConfirmForm):
    """One nurse's answer to one caution."""

    finding = StringField("Finding")
    reason = RadioField("Why it may go on", [InputRequired("Choose the reason.")])
    named = StringField("Who was asked", [Length(max=LONGEST)])
    more = TextAreaField("More, if it helps", [Length(max=LONGEST_NOTE)])


class StepsForm(ConfirmForm):
    """The steps that one nurse has done, or has verified."""

    step = StringField("Steps")


class BaselineForm(ConfirmForm):
    """What was observed before any dose."""

    sedation = RadioField("Sedation", [InputRequired("Choose the level.")])
    respiratory_rate = StringField(
        "Respiratory rate", [InputRequired("Write the rate."), Length(max=LONGEST)]
    )
    spo2 = StringField("SpO2", [InputRequired("Write the saturation."), Length(max=LONGEST)])


class PrimedVolumeForm(ConfirmForm):
    """The primed volume as the device shows it."""

    volume = StringField("Primed volume", [InputRequired("Write the volume."), Length(max=LONGEST)])


class LastLookForm(ConfirmForm):
    """Whether the device shows exactly what was agreed."""

    same = StringField("Last look")


class SignForm(TextForm):
    """Id and secret, every time; the digest is of the record that the page shows."""

    digest = StringField("Record")
    login = StringField("Id", [InputRequired("Write your id."), Length(max=100)])
    secret = PasswordField("Secret", [InputRequired("Write your secret."), Length(max=LONGEST_SECRET)])
