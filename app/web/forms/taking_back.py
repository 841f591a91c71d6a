"""What was taken back after a wrong syringe, and the id and secret of whoever saw it."""

from wtforms import IntegerField, PasswordField, RadioField, StringField
from wtforms.validators import InputRequired, Length, Optional

from app.quantities import Dimension
from app.web.forms.authenticators import LONGEST_SECRET
from app.web.forms.checking import LONGEST, TextForm, offered
from app.web.forms.confirming import written_in
from app.words.taken_back import WAYS

_IN_ML = written_in("mL", Dimension.VOLUME)


class TakeBackForm(TextForm):
    """Two volumes, what became of them, and a witness; `last` is of what stood when the page was served."""

    last = IntegerField("Written before", [Optional()])
    in_syringe = StringField(
        "Left in the old syringe", [InputRequired("Write the volume."), Length(max=LONGEST), _IN_ML]
    )
    in_line = StringField(
        "Held in the old line", [InputRequired("Write the volume."), Length(max=LONGEST), _IN_ML]
    )
    way = RadioField(
        "What became of it",
        [InputRequired("Choose what became of it."), offered("Choose what became of it.")],
        choices=dict(WAYS),
        validate_choice=False,
    )
    lot = StringField("Lot of the old syringe", [InputRequired("Write the lot."), Length(max=LONGEST)])
    stated_at = StringField("When", [Length(max=LONGEST)])
    login = StringField("Id", [InputRequired("The witness writes an id."), Length(max=100)])
    secret = PasswordField(
        "Secret", [InputRequired("The witness writes a secret."), Length(max=LONGEST_SECRET)]
    )
