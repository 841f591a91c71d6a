"""How much drug is taken back and what becomes of it; then what a witness reads, with id and secret."""

from collections.abc import Container, Iterable

from wtforms import IntegerField, PasswordField, RadioField, StringField
from wtforms.validators import InputRequired, Length, Optional

from app.judging.in_hand import InHand, must_be_named
from app.quantities import Dimension
from app.records.taken_back import IN_LINE, IN_SYRINGE
from app.web.forms.authenticators import LONGEST_SECRET
from app.web.forms.checking import LONGEST, TextForm, offered
from app.web.forms.confirming import written_in
from app.words.taken_back import OUTSIDE, WAYS

_IN_ML = written_in("mL", Dimension.VOLUME)


class TakeBackForm(TextForm):
    """What one of the two reads, and what becomes of it; `last` is of what stood when the page was served."""

    last = IntegerField("Written before", [Optional()])
    syringe = RadioField("Which syringe", [Optional()], validate_choice=False)
    in_syringe = StringField(
        "Left in the old syringe", [InputRequired("Write the volume."), Length(max=LONGEST), _IN_ML]
    )
    in_line = StringField(
        "Held in the old line", [InputRequired("Write the volume."), Length(max=LONGEST), _IN_ML]
    )
    way = RadioField(
        "What becomes of it",
        [InputRequired("Choose what becomes of it."), offered("Choose what becomes of it.")],
        choices=dict(WAYS),
        validate_choice=False,
    )
    lot = StringField("Lot of the old syringe", [InputRequired("Write the lot."), Length(max=LONGEST)])
    stated_at = StringField("When", [Length(max=LONGEST)])

    @property
    def volumes(self) -> dict[str, str]:
        """The volumes as they were typed, by where the drug is."""
        return volumes_of(self)

    def offer(self, syringes: Iterable[InHand]) -> None:
        """Ask which syringe it is, where the lots of those in hand do not say it."""
        in_hand = tuple(syringes)
        self.syringe.choices = syringes_offered(in_hand)
        if not must_be_named(in_hand):
            del self.syringe


class WasteForm(TextForm):
    """What one person reads outside of any check, and what became of it; `last` as above."""

    last = IntegerField("Written before", [Optional()])
    what = RadioField(
        "What became of it",
        [InputRequired("Choose what became of it."), offered("Choose what became of it.")],
        choices=dict(OUTSIDE),
        validate_choice=False,
    )
    syringe = RadioField("Which syringe", [Optional()], validate_choice=False)
    in_syringe = StringField("How much", [InputRequired("Write the volume."), Length(max=LONGEST), _IN_ML])
    lot = StringField("Lot of the syringe", [InputRequired("Write the lot."), Length(max=LONGEST)])
    stated_at = StringField("When", [Length(max=LONGEST)])

    def offer(self, syringes: Iterable[InHand]) -> None:
        """As above."""
        in_hand = tuple(syringes)
        self.syringe.choices = syringes_offered(in_hand)
        if not must_be_named(in_hand):
            del self.syringe


class WitnessForm(TextForm):
    """What the witness reads, and whose reading it is."""

    in_syringe = StringField(
        "Left in the syringe, as you read it",
        [InputRequired("Write the volume."), Length(max=LONGEST), _IN_ML],
    )
    in_line = StringField(
        "Held in the old line, as you read it",
        [InputRequired("Write the volume."), Length(max=LONGEST), _IN_ML],
    )
    login = StringField("Id", [InputRequired("The witness writes an id."), Length(max=100)])
    secret = PasswordField(
        "Secret", [InputRequired("The witness writes a secret."), Length(max=LONGEST_SECRET)]
    )

    @property
    def volumes(self) -> dict[str, str]:
        """The volumes as they were typed, by where the drug is."""
        return volumes_of(self)


def syringes_offered(syringes: Iterable[InHand]) -> dict[str, str]:
    """Each by its name in the account, and where it is; its lot is on its label."""
    return {
        each.name: f"Syringe {each.name}, {'on the device' if each.is_on else 'taken off before'}"
        for each in syringes
    }


def volumes_of(form: TextForm) -> dict[str, str]:
    """In mL, from the fields that are asked for."""
    return {
        place: f"{form.text(name)} mL" for place in (IN_SYRINGE, IN_LINE) if (name := f"in_{place}") in form
    }


def only_what_is_asked(form: TextForm, portions: Iterable[str]) -> None:
    """At the end nothing is asked of the line: what it holds was primed into it, and told then."""
    if IN_LINE not in portions:
        del form["in_line"]
        for name in ("in_syringe", "lot"):
            if name in form:
                form[name].label.text = form[name].label.text.replace("old ", "")


def only_what_was_asked(form: TextForm, sent: Container[str]) -> None:
    """The same once it was sent; whether all that was asked is there, is decided inside."""
    only_what_is_asked(form, [place for place in (IN_SYRINGE, IN_LINE) if f"in_{place}" in sent])
