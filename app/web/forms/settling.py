"""Forms for what follows a comparison."""

from typing import Self

from werkzeug.datastructures import MultiDict
from wtforms import RadioField, StringField, TextAreaField
from wtforms.validators import InputRequired, Length

from app.web.forms.checking import LONGEST, TextForm
from app.web.forms.confirming import LONGEST_NOTE
from app.words.checking import ABANDON_REASONS
from app.words.names import WHYS
from app.workflow import settling

_CHOOSE = "Choose one of the answers."


class PutRightForm(TextForm):
    """What somebody put right; the sources come as a list."""

    touched = StringField("What was put right")
    why = TextAreaField("More, if it helps", [Length(max=LONGEST_NOTE)])


class HelpForm(TextForm):
    """Ask a third person to look."""

    why = RadioField("Why", [InputRequired(_CHOOSE)], choices=WHYS)
    more = TextAreaField("More, if it helps", [Length(max=LONGEST_NOTE)])


class SettleForm(TextForm):
    """How the person who helped settled it; what there is to choose from is of the check."""

    outcome = RadioField("How it was settled", [InputRequired(_CHOOSE)], validate_choice=False)
    more = TextAreaField("What was found and done", [Length(max=LONGEST_NOTE)])


class ExceptionForm(TextForm):
    """Set one rule aside, this once."""

    finding = RadioField("Rule", [InputRequired("Choose the rule.")], validate_choice=False)
    reason = TextAreaField(
        "Why it may be set aside", [InputRequired("Write the reason."), Length(max=LONGEST_NOTE)]
    )
    prescriber = StringField("Prescriber who was asked", [Length(max=LONGEST)])


class CloseAccountForm(TextForm):
    """Why an account that does not add up is closed."""

    reason = TextAreaField("The reason", [InputRequired("Write the reason."), Length(max=LONGEST_NOTE)])


class AbandonForm(TextForm):
    """End a check before clearance."""

    reason = RadioField(
        "Why",
        [InputRequired(_CHOOSE)],
        choices={each: ABANDON_REASONS[each] for each in (settling.EXERCISE_OVER, *settling.ABANDON_REASONS)},
    )
    more = TextAreaField("More, if it helps", [Length(max=LONGEST_NOTE)])

    @classmethod
    def here(cls, given: MultiDict[str, str] | None = None, *, training: bool) -> Self:
        """The form; where people train, an exercise may be over."""
        form = cls(given)
        if not training:
            form.reason.choices = {each: ABANDON_REASONS[each] for each in settling.ABANDON_REASONS}
        return form
