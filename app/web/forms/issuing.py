"""A syringe that is issued, as one person writes it down; and who takes one back unopened."""

from wtforms import BooleanField, PasswordField, RadioField, StringField
from wtforms.validators import InputRequired, Length

from app.quantities import Dimension
from app.web.forms.authenticators import LONGEST_SECRET
from app.web.forms.checking import LONGEST, TextForm, offered
from app.web.forms.confirming import written_in
from app.web.forms.opening import PlaceForm
from app.words.issued import FROM, SEALED

_SHORT = Length(max=LONGEST)


class IssueForm(PlaceForm):
    """For which bed, from where, from whom to whom, and what its label and its seal are."""

    source = RadioField(
        "Where it comes from",
        [InputRequired("Choose where it comes from."), offered("Choose where it comes from.")],
        choices=dict(FROM),
        validate_choice=False,
    )
    giver = StringField("Handed over by", [InputRequired("Write who handed it over."), _SHORT])
    receiver = StringField("Taken by", [InputRequired("Write who took it."), _SHORT])
    number = StringField(
        "Serial or lot", [InputRequired("Write the serial or the lot from the label."), _SHORT]
    )
    volume = StringField(
        "Volume on its label",
        [InputRequired("Write the volume."), _SHORT, written_in("mL", Dimension.VOLUME)],
    )
    sealed = RadioField(
        "Its seal",
        [InputRequired("Look at its seal, and choose."), offered("Look at its seal, and choose.")],
        choices=dict(SEALED),
        validate_choice=False,
    )
    another = BooleanField("It is one more syringe of the same lot")


class TakenForm(TextForm):
    """The pharmacist who takes it."""

    login = StringField("Id", [InputRequired("The pharmacist writes an id."), Length(max=100)])
    secret = PasswordField(
        "Secret", [InputRequired("The pharmacist writes a secret."), Length(max=LONGEST_SECRET)]
    )
