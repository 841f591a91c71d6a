"""Forms of what is told of an emergency afterwards: nothing in them is mandatory before it was saved."""

from wtforms import StringField, TextAreaField
from wtforms.validators import Length

from app.web.forms.checking import LONGEST, TextForm
from app.words.emergencies import TOLD

_SHORT = [Length(max=LONGEST, message=f"Write at most {LONGEST} characters.")]


class ToldForm(TextForm):
    """What there was no time for; each kind of emergency asks some of it."""

    agent = StringField(TOLD["agent"], _SHORT)
    dose = StringField(TOLD["dose"], _SHORT)
    route = StringField(TOLD["route"], _SHORT)
    given_at = StringField(TOLD["given_at"], _SHORT)
    response = StringField(TOLD["response"], _SHORT)
    holder = StringField(TOLD["holder"], _SHORT)
    place = StringField(TOLD["place"], _SHORT)
    left = StringField(TOLD["left"], _SHORT)
    responsible = StringField(TOLD["responsible"], _SHORT)
    told = StringField(TOLD["told"], _SHORT)
    found = StringField(TOLD["found"], _SHORT)


class SealedForm(TextForm):
    """What is said of device and syringe once they are locked and sealed."""

    seal = StringField("Number of the seal", _SHORT)
    holder = StringField(TOLD["holder"], _SHORT)
    place = StringField(TOLD["place"], _SHORT)
    volume = StringField("Volume left by the scale, if it can be read", _SHORT)
    totals = TextAreaField("Device totals, if they show", _SHORT)


class DecisionForm(TextForm):
    """Who decided that a held infusion may be set anew."""

    prescriber = StringField("Prescriber who decided", _SHORT)
