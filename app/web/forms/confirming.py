"""Forms that one nurse fills in on a screen where either may be signed in.

What there is to choose from is the check's own: whether it was offered is decided where it is kept.
"""

from collections.abc import Callable

from wtforms import (
    IntegerField,
    PasswordField,
    RadioField,
    SelectMultipleField,
    StringField,
    TextAreaField,
    ValidationError,
)
from wtforms.validators import InputRequired, Length, Optional

from app.quantities import Dimension, Fault, parse_quantity
from app.web.forms.authenticators import LONGEST_SECRET, BesideForm
from app.web.forms.checking import LONGEST, TextForm
from app.web.forms.signing_in import six_digits

LONGEST_NOTE = 500


class ConfirmForm(TextForm):
    """Whose part it is; id and secret when that is not whoever is signed in."""

    by = StringField("Nurse")
    login = StringField("Id", [Length(max=100)])
    secret = PasswordField("Secret", [Length(max=LONGEST_SECRET)])
    # Or six digits, where this nurse's shift session lives at this screen.
    shift_session = StringField("Shift session")
    pin = PasswordField("Six digits", [Optional(), six_digits])


CHOOSE_REASON = "Mark a reason for each of them."


class AcknowledgeForm(ConfirmForm):
    """One nurse's answer to the cautions of one group."""

    finding = SelectMultipleField("Findings", validate_choice=False)
    reason = SelectMultipleField("Why it may go on", [InputRequired(CHOOSE_REASON)], validate_choice=False)
    named = StringField("Who was asked", [Length(max=LONGEST)])
    more = TextAreaField("More, if it helps", [Length(max=LONGEST_NOTE)])


def written_in(unit: str, dimension: Dimension) -> Callable[[TextForm, StringField], None]:
    """Refuse a number, of a field with one unit, that is not written as it must be; blank is no number."""

    def refuse(form: TextForm, field: StringField) -> None:
        typed = form.text(field.name)
        read = parse_quantity(f"{typed} {unit}", dimension, zero_allowed=True) if typed else None
        if isinstance(read, Fault):
            raise ValidationError(read.says)

    return refuse


class StepsForm(ConfirmForm):
    """What one nurse says was done, by whom, or has verified, and what is written down; any may be blank."""

    who = StringField("Who did it")

    sedation = RadioField("Sedation", [Optional()], validate_choice=False)
    respiratory_rate = StringField(
        "Respiratory rate", [Length(max=LONGEST), written_in("/min", Dimension.FREQUENCY)]
    )
    spo2 = StringField("SpO2", [Length(max=LONGEST), written_in("%", Dimension.PERCENT)])
    step = StringField("Steps")
    volume = StringField("Primed volume", [Length(max=LONGEST), written_in("mL", Dimension.VOLUME)])
    patient = StringField("Patient identifier", [Length(max=LONGEST)])
    # The round in which the volume was asked for: what is sent again later belongs to no later one.
    volume_round = IntegerField("Reading", [Optional()])

    def is_observed(self) -> bool:
        """Whether anything was observed before any dose: then all of it must be."""
        return any(map(self.text, _OBSERVED))

    def refuse_what_is_left_out(self) -> bool:
        """Put a fault beside each part of an observation that is not there; whether there was any."""
        left_out = [name for name in _OBSERVED if self.is_observed() and not self.text(name)]
        for name in left_out:
            self.refuse(name, _OBSERVED[name])
        return bool(left_out)


_OBSERVED = {
    "sedation": "Choose the level.",
    "respiratory_rate": "Write the rate.",
    "spo2": "Write the saturation.",
}


class LastLookForm(ConfirmForm):
    """Whether the device shows exactly what was agreed."""

    same = StringField("Last look")


class SignForm(BesideForm):
    """Id and secret, every time; the digest is of the record that the page shows."""

    digest = StringField("Record")
    login = StringField("Id", [InputRequired("Write your id."), Length(max=100)])
    secret = PasswordField("Secret", [InputRequired("Write your secret."), Length(max=LONGEST_SECRET)])
