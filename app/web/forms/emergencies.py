"""Forms of what is told of an emergency afterwards: nothing in them is mandatory before it was saved."""

from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from werkzeug.datastructures import MultiDict
from wtforms import StringField
from wtforms.validators import InputRequired, Length

from app.records.evidence import READ
from app.web.forms.checking import LONGEST, TextForm, Wrong
from app.web.forms.reading import Offered, ReadForm, read_form
from app.words.emergencies import SEALED, TOLD

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
    """What is said in one's own words of device and syringe once they are locked and sealed."""

    seal = StringField(SEALED["seal"], _SHORT)
    holder = StringField(SEALED["holder"], _SHORT)
    place = StringField(SEALED["place"], _SHORT)


@dataclass(frozen=True, kw_only=True)
class Sealed:
    """All that is said of them: `form` in own words, `shown` what both show, asked as in a reading."""

    form: SealedForm
    shown: ReadForm

    @property
    def own(self) -> dict[str, str]:
        """Each answer in own words."""
        return {each.name: self.form.text(each.name) for each in self.form}

    @property
    def wrong(self) -> tuple[Wrong, ...]:
        """Every fault."""
        return (*self.form.wrong(), *self.shown.wrong)


def read_sealed(posted: MultiDict[str, str], now: datetime, zone: ZoneInfo) -> Sealed:
    """Read what was posted, or show it empty."""
    form = SealedForm(posted)
    form.validate()
    # Of what may be chosen from, nothing is offered here.
    offered = Offered(
        drugs=(),
        fluids=(),
        packs=(),
        levels=(),
        scale="",
        zone=zone,
        today=now.astimezone(zone).date(),
        adult_age=0,
    )
    return Sealed(form=form, shown=read_form(READ, posted, offered))


class SealForm(TextForm):
    """The number that whoever holds what is kept reads on its seal."""

    seal = StringField(
        "Number on the seal", [*_SHORT, InputRequired(message="Read the number on the seal, and write it.")]
    )


class DecisionForm(TextForm):
    """Who decided that a held infusion may be set anew."""

    prescriber = StringField("Prescriber who decided", _SHORT)
